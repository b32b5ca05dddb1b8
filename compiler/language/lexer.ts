/** Cuts a block text into tokens with their places, and walks them: the only code that looks at single characters. */

import type { Finding, Level } from '../findings.ts';
import type { Spot } from './syntax.ts';

export interface Token {
  readonly kind: 'number' | 'name' | 'string' | 'symbol' | 'line end' | 'end';
  /** As written; a string without its quotes and escapes. */
  readonly text: string;
  readonly at: Spot;
  /** No space stands before it. */
  readonly tight: boolean;
}

export interface Lexed {
  readonly tokens: readonly Token[];
  readonly findings: readonly Finding[];
}

/** Longest text read, in characters; longer ones are refused whole. */
export const longestText = 100_000;
/** Most findings reported of one text. */
export const mostFindings = 50;

/** One piece of text: a gap, a line's end, a number, a name, words in quotes or a symbol, in that order of groups. */
const piece =
  /([ \t\r\u00a0]+|#[^\n]*)|(\n)|((?:\d+(?:\.\d+)?|\.\d+)(?:[eE][+-]?\d+)?)|([A-Za-zΩµμ°][A-Za-z0-9_]*(?:\.[A-Za-z][A-Za-z0-9_]*)*)|("[^"\\\n]*(?:\\.[^"\\\n]*)*")|(==|!=|<=|>=|[-+*/\\^<>=()[\]{},;:?])/y;

/** A line that can only be a new statement, even where a bracket before it was left open. */
const freshStatement =
  /^(?:(?:in|out|inputs|outputs|set|build|let|mem|line|state|next|law|channel in|channel out|d\/dt)[ \t]+[A-Za-z]\w*[ \t]*[:=]|(?:block|example|say|mode|from|source|called)[ \t]+[A-Za-z"]|[A-Za-z]\w*[ \t]*=[^=])/;

/** What a mistyped character was probably meant to be. */
const meant: Readonly<Record<string, string>> = {
  '−': '-',
  '–': '-',
  '×': '*',
  '·': '*',
  '÷': '/',
  '≤': '<=',
  '≥': '>=',
  '≠': '!=',
  '²': '^2',
  '³': '^3',
  π: 'pi',
  '∞': 'unlimited',
  "'": '"',
  '“': '"',
  '”': '"',
  '&': 'and',
  '|': 'or',
  '!': 'not',
  '%': 'percent',
};

const closing: Readonly<Record<string, string>> = { '(': ')', '[': ']', '{': '}' };

/** An error of the language at a spot of a text. */
export function fault(id: string, at: Spot, facts: Record<string, string> = {}, level: Level = 'error'): Finding {
  return { id, level, at: { path: '', line: at.line, column: at.column }, facts };
}

/**
 * The tokens of `text`, ending in one `end`. A line end counts unless a bracket is open or a comma, semicolon or colon stands
 * before it; with `lines` false no line end counts.
 */
export function lex(text: string, lines: boolean): Lexed {
  const tokens: Token[] = [];
  const findings: Finding[] = [];
  const open: { bracket: string; at: Spot }[] = [];
  let position = 0;
  let line = 1;
  let lineStart = 0;
  let tight = false;

  const spot = (): Spot => ({ line, column: position - lineStart + 1 });
  const report = (finding: Finding): void => {
    if (findings.length < mostFindings) findings.push(finding);
  };
  const take = (kind: Token['kind'], source: string, value = source): void => {
    tokens.push({ kind, text: value, at: spot(), tight });
    position += source.length;
    tight = true;
  };
  const skip = (length: number): void => {
    position += length;
    tight = false;
  };
  const forgetOpen = (): void => {
    const first = open[0];
    if (first !== undefined) report(fault('open_bracket', first.at, { bracket: first.bracket }));
    open.length = 0;
  };
  const endLine = (): void => {
    const before = tokens.at(-1);
    const separated = before?.kind === 'symbol' && /^[,;:]$/.test(before.text);
    let goesOn = open.length > 0 || separated;
    if (lines && goesOn && freshStatement.test(text.slice(position + 1, position + 80))) {
      forgetOpen();
      goesOn = false;
    }
    if (lines && !goesOn && before !== undefined && before.kind !== 'line end')
      tokens.push({ kind: 'line end', text: '\n', at: spot(), tight });
    skip(1);
    line++;
    lineStart = position;
  };
  const takeSymbol = (sign: string): void => {
    if (closing[sign] !== undefined) open.push({ bracket: sign, at: spot() });
    else if (open.length > 0 && sign === closing[open.at(-1)?.bracket ?? '']) open.pop();
    take('symbol', sign);
  };
  const takeStrange = (): void => {
    if (text[position] === '"') {
      report(fault('open_string', spot()));
      const end = text.indexOf('\n', position);
      const rest = text.slice(position, end < 0 ? text.length : end);
      take('string', rest, rest.slice(1));
      return;
    }
    const character = String.fromCodePoint(text.codePointAt(position) ?? 0);
    report(fault('strange_character', spot(), { character, meant: meant[character] ?? '' }));
    skip(character.length);
  };

  if (text.length > longestText) {
    const at = { line: 1, column: 1 };
    return {
      tokens: [{ kind: 'end', text: '', at, tight: false }],
      findings: [fault('text_too_long', at, { length: String(text.length), longest: String(longestText) })],
    };
  }
  while (position < text.length) {
    piece.lastIndex = position;
    const [, gap, lineEnd, numeral, word, quoted, sign] = piece.exec(text) ?? [];
    if (gap !== undefined) skip(gap.length);
    else if (lineEnd !== undefined) endLine();
    else if (numeral !== undefined) take('number', numeral);
    else if (word !== undefined) take('name', word);
    else if (quoted !== undefined) take('string', quoted, quoted.slice(1, -1).replace(/\\(.)/g, '$1'));
    else if (sign !== undefined) takeSymbol(sign);
    else takeStrange();
  }
  if (lines) forgetOpen();
  tokens.push({ kind: 'end', text: '', at: spot(), tight: false });
  return { tokens, findings };
}

/** Leaves the statement being read; caught where the next one begins, never seen outside the parser. */
export class Abandoned extends Error {}

/** Walks tokens and collects findings. */
export class Cursor {
  readonly findings: Finding[];
  private readonly tokens: readonly Token[];
  private index = 0;

  constructor(lexed: Lexed) {
    this.tokens = lexed.tokens;
    this.findings = [...lexed.findings];
  }

  /** The token `ahead` places on; the `end` token from the end on. */
  peek(ahead = 0): Token {
    const token = this.tokens[this.index + ahead] ?? this.tokens.at(-1);
    if (token === undefined) throw new Error('a lexed text has at least its end');
    return token;
  }

  /** How many tokens have been read. */
  get read(): number {
    return this.index;
  }

  take(): Token {
    const token = this.peek();
    if (token.kind !== 'end') this.index++;
    return token;
  }

  /** True if the next token is this symbol or this word. */
  sees(text: string, ahead = 0): boolean {
    const token = this.peek(ahead);
    return (token.kind === 'symbol' || token.kind === 'name') && token.text === text;
  }

  /** Takes the next token if it is this symbol or word. */
  skip(text: string): boolean {
    if (!this.sees(text)) return false;
    this.index++;
    return true;
  }

  /** Takes this symbol or word, or gives the statement up. `where` says what was being read. */
  expect(text: string, where: string): Token {
    if (!this.sees(text)) this.unexpected(`“${text}”`, where);
    return this.take();
  }

  expectName(where: string): Token {
    if (this.peek().kind !== 'name') this.unexpected('a name', where);
    return this.take();
  }

  expectString(where: string): Token {
    if (this.peek().kind !== 'string') this.unexpected('words in quotes', where);
    return this.take();
  }

  get atLineEnd(): boolean {
    const kind = this.peek().kind;
    return kind === 'line end' || kind === 'end';
  }

  report(id: string, at: Spot, facts: Record<string, string> = {}): void {
    if (this.findings.length < mostFindings) this.findings.push(fault(id, at, facts));
  }

  fail(id: string, at: Spot, facts: Record<string, string> = {}): never {
    this.report(id, at, facts);
    throw new Abandoned(id);
  }

  unexpected(wanted: string, where: string): never {
    const token = this.peek();
    const found =
      token.kind === 'end'
        ? 'the end of the text'
        : token.kind === 'line end'
          ? 'the end of the line'
          : token.kind === 'string'
            ? `"${token.text.slice(0, 40)}"`
            : `“${token.text.slice(0, 40)}”`;
    this.fail('unexpected', token.at, { wanted, where, found });
  }

  /** What stands here cannot follow an expression: a missing sign where two values meet, else an unexpected token. */
  afterExpression(wanted: string): never {
    const token = this.peek();
    if (token.kind === 'name') this.fail('missing_sign', token.at, { right: token.text.slice(0, 40) });
    return this.unexpected(wanted, 'what comes after an expression');
  }

  /** Goes on at the next statement. */
  toNextLine(): void {
    while (!this.atLineEnd) this.index++;
  }
}
