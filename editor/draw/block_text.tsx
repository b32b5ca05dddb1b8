/** A block text of one's own, in an editor loaded when it is wanted; the only user of Monaco. The sheet holds the text, its history the undo. */
import * as monaco from 'monaco-editor/editor';
import 'monaco-editor/editor/contrib/suggest/browser/suggestController';
import 'monaco-editor/features/bracketMatching/register';
import 'monaco-editor/features/clipboard/register';
import 'monaco-editor/features/comment/register';
import 'monaco-editor/features/find/register';
import 'monaco-editor/features/hover/register';
import 'monaco-editor/features/toggleTabFocusMode/register';
import EditorWorker from 'monaco-editor/editor/editor.worker?worker';
import { useEffect, useRef } from 'react';
import type { Finding } from '../../compiler/findings.ts';
import { parseBlock } from '../../compiler/language/parser.ts';
import { palettes } from '../../compiler/picture/palette.ts';
import { sentence } from '../../compiler/wording.ts';
import { runCommand } from '../commands.ts';
import { useChecked, useSheet, useWorkbench, type Workbench } from '../workbench.ts';
import { FUNCTIONS, INNER, KNOWN_NAMES, STATEMENTS } from './block_words.ts';

const LANGUAGE = 'loopwright_block';

self.MonacoEnvironment = { getWorker: () => new EditorWorker() };

monaco.languages.register({ id: LANGUAGE });
monaco.languages.setLanguageConfiguration(LANGUAGE, {
  comments: { lineComment: '#' },
  brackets: [
    ['(', ')'],
    ['[', ']'],
  ],
});
monaco.languages.setMonarchTokensProvider(LANGUAGE, {
  statements: Object.keys(STATEMENTS),
  inner: INNER,
  functions: FUNCTIONS,
  names: KNOWN_NAMES,
  tokenizer: {
    root: [
      [/#.*$/, 'comment'],
      [/"[^"]*"?/, 'string'],
      [/d\/dt\b/, 'keyword'],
      [/^(\s*)([a-z]+)/, ['', { cases: { '@statements': 'keyword', '@default': 'identifier' } }]],
      [/\d[\d.]*(?:[eE][+-]?\d+)?/, 'number'],
      [
        /[A-Za-z_][A-Za-z0-9_]*/,
        {
          cases: { '@inner': 'keyword', '@functions': 'predefined', '@names': 'predefined', '@default': 'identifier' },
        },
      ],
    ],
  },
});
monaco.languages.registerCompletionItemProvider(LANGUAGE, {
  provideCompletionItems(model, position) {
    const word = model.getWordUntilPosition(position);
    const range = {
      startLineNumber: position.lineNumber,
      endLineNumber: position.lineNumber,
      startColumn: word.startColumn,
      endColumn: word.endColumn,
    };
    const first =
      model
        .getLineContent(position.lineNumber)
        .slice(0, word.startColumn - 1)
        .trim() === '';
    const { Keyword, Function: Called, Variable } = monaco.languages.CompletionItemKind;
    const own = new Set(model.getValue().match(/\b[A-Za-z][A-Za-z0-9_]*\b/g) ?? []);
    own.delete(word.word);
    const offer = (label: string, kind: monaco.languages.CompletionItemKind, detail = '') => ({
      label,
      kind,
      detail,
      insertText: label,
      range,
    });
    return {
      suggestions: [
        ...(first ? Object.entries(STATEMENTS).map(([label, detail]) => offer(label, Keyword, detail)) : []),
        ...FUNCTIONS.map((label) => offer(label, Called)),
        ...[...own]
          .filter((label) => !(label in STATEMENTS) && !FUNCTIONS.includes(label))
          .map((label) => offer(label, Variable)),
      ],
    };
  },
});
for (const theme of ['light', 'dark'] as const) {
  const { paper, ink, muted, card, ground } = palettes[theme];
  monaco.editor.defineTheme(theme, {
    base: theme === 'light' ? 'vs' : 'vs-dark',
    inherit: false,
    rules: [
      { token: '', foreground: ink.slice(1) },
      { token: 'keyword', foreground: ink.slice(1), fontStyle: 'bold' },
      { token: 'comment', foreground: muted.slice(1), fontStyle: 'italic' },
      { token: 'string', foreground: muted.slice(1) },
      { token: 'predefined', foreground: ink.slice(1), fontStyle: 'italic' },
    ],
    colors: {
      'editor.background': card,
      'editor.foreground': ink,
      'editorCursor.foreground': ink,
      'editorLineNumber.foreground': muted,
      'editorWidget.background': paper,
      'editorWidget.border': ink,
      'editorSuggestWidget.background': paper,
      'editorSuggestWidget.foreground': ink,
      'editorSuggestWidget.highlightForeground': ink,
      'editorSuggestWidget.selectedBackground': ground,
      'editorSuggestWidget.selectedForeground': ink,
      'editorSuggestWidget.focusHighlightForeground': ink,
      'editor.selectionBackground': ground,
      'editorBracketMatch.background': ground,
      'editorBracketMatch.border': muted,
      'editorHoverWidget.background': paper,
    },
  });
}

/** The editor of one text; a plain text area where fingers are the pointer. */
export function BlockText({ name }: { name: string }) {
  const workbench = useWorkbench();
  const { shelf } = useSheet();
  const { findings } = useChecked();
  const text = shelf[name];
  if (typeof text !== 'string') return null;
  const found = [
    ...parseBlock(text, name).findings,
    ...findings.filter((finding) => finding.at.text === name && finding.at.line !== undefined),
  ];
  const seen = new Set<string>();
  const once = found.filter(
    ({ id, at }) => !seen.has(`${id} ${at.line} ${at.column}`) && seen.add(`${id} ${at.line} ${at.column}`),
  );
  const coarse = matchMedia('(pointer: coarse)').matches;
  return (
    <>
      {coarse ? (
        <textarea
          aria-label={`Text of ${name}`}
          rows={20}
          spellCheck={false}
          value={text}
          onChange={(event) => write(workbench, name, event.target.value)}
        />
      ) : (
        <Editor name={name} text={text} findings={once} />
      )}
      <ol className="text_findings">
        {once.map((finding) => (
          <li key={`${finding.id} ${finding.at.line} ${finding.at.column}`} data-level={finding.level}>
            <b>line {finding.at.line}: </b>
            {sentence(finding).full}
          </li>
        ))}
      </ol>
    </>
  );
}

/** Puts the text into the sheet; what is typed in a row is one step. */
function write({ document }: Workbench, name: string, text: string): void {
  document.change(
    `edit the text of ${name}`,
    '',
    (sheet) => {
      sheet.shelf[name] = text;
      return undefined;
    },
    `text ${name}`,
  );
}

function Editor({ name, text, findings }: { name: string; text: string; findings: readonly Finding[] }) {
  const workbench = useWorkbench();
  const place = useRef<HTMLDivElement>(null);
  const editor = useRef<monaco.editor.IStandaloneCodeEditor>(undefined);
  /** True while the sheet writes into the editor rather than the other way round. */
  const told = useRef(false);
  const start = useRef(text);
  useEffect(() => {
    if (place.current === null) return;
    const model = monaco.editor.createModel(start.current, LANGUAGE);
    const made = monaco.editor.create(place.current, {
      model,
      theme: themeNow(),
      automaticLayout: true,
      minimap: { enabled: false },
      lineNumbersMinChars: 3,
      fontSize: 13,
      scrollBeyondLastLine: false,
      wordBasedSuggestions: 'off',
      bracketPairColorization: { enabled: false },
      guides: { indentation: false },
      fixedOverflowWidgets: true,
      fontFamily: getComputedStyle(document.documentElement).getPropertyValue('--plain'),
      renderLineHighlight: 'none',
      ariaLabel: `Text of ${name}. Control M lets Tab leave it.`,
    });
    editor.current = made;
    const { CtrlCmd, Shift } = monaco.KeyMod;
    made.addCommand(CtrlCmd | monaco.KeyCode.KeyZ, () => runCommand(workbench, 'history.undo'));
    made.addCommand(CtrlCmd | Shift | monaco.KeyCode.KeyZ, () => runCommand(workbench, 'history.redo'));
    made.addCommand(CtrlCmd | monaco.KeyCode.KeyY, () => runCommand(workbench, 'history.redo'));
    model.onDidChangeContent(() => {
      if (!told.current) write(workbench, name, model.getValue());
    });
    made.focus();
    return () => {
      made.dispose();
      model.dispose();
    };
  }, [workbench, name]);
  useEffect(() => {
    const model = editor.current?.getModel();
    if (model === null || model === undefined || model.getValue() === text) return;
    told.current = true;
    model.applyEdits([changeBetween(model, text)]);
    told.current = false;
  }, [text]);
  useEffect(() => {
    const model = editor.current?.getModel();
    if (model === null || model === undefined) return;
    const { MarkerSeverity } = monaco;
    const severity = { error: MarkerSeverity.Error, warning: MarkerSeverity.Warning, advice: MarkerSeverity.Info };
    monaco.editor.setModelMarkers(
      model,
      'loopwright',
      findings.map((finding) => {
        const line = Math.min(finding.at.line ?? 1, model.getLineCount());
        const column = finding.at.column ?? 1;
        const word = model.getWordAtPosition({ lineNumber: line, column });
        return {
          severity: severity[finding.level],
          message: sentence(finding).full,
          startLineNumber: line,
          endLineNumber: line,
          startColumn: column,
          endColumn: word?.endColumn ?? column + 1,
        };
      }),
    );
  }, [findings]);
  return <div className="text_editor nokey" ref={place} />;
}

function themeNow(): 'light' | 'dark' {
  return getComputedStyle(document.documentElement).colorScheme === 'dark' ? 'dark' : 'light';
}

/** The one stretch in which a model differs from a text, so that the caret stays where it is. */
function changeBetween(model: monaco.editor.ITextModel, text: string): monaco.editor.IIdentifiedSingleEditOperation {
  const old = model.getValue();
  let start = 0;
  while (start < old.length && start < text.length && old[start] === text[start]) start++;
  let end = 0;
  while (end < old.length - start && end < text.length - start && old.at(-1 - end) === text.at(-1 - end)) end++;
  const [from, to] = [model.getPositionAt(start), model.getPositionAt(old.length - end)];
  const range = {
    startLineNumber: from.lineNumber,
    startColumn: from.column,
    endLineNumber: to.lineNumber,
    endColumn: to.column,
  };
  return { range, text: text.slice(start, text.length - end) };
}
