/** Laws of the sheet's history, on random histories: do and undo, redo, joining, replay from a journal, ids through renames. */
import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { saveSheet } from '../../compiler/sheet/save.ts';
import { blankSheet } from '../../compiler/sheet/sheet.ts';
import { addBlock, endOf, move, removeBlocks, setSetting, unwire, wire } from '../../editor/document/edits.ts';
import { after, type State, type Stroke } from '../../editor/document/history.ts';
import { renameBlock } from '../../editor/document/rename.ts';
import { createDocument, type Recipe, type SheetDocument, stateOf } from '../../editor/document/sheet.ts';

const NAMES = ['want', 'error', 'law', 'drive', 'table'];

type Act =
  | { readonly kind: 'add' | 'remove' | 'heal'; readonly name: string }
  | { readonly kind: 'rename'; readonly name: string; readonly to: string }
  | { readonly kind: 'wire' | 'unwire'; readonly from: string; readonly name: string }
  | { readonly kind: 'set'; readonly name: string; readonly value: number; readonly joins: boolean }
  | { readonly kind: 'move'; readonly name: string; readonly x: number }
  | { readonly kind: 'undo' | 'redo' };

const name = fc.constantFrom(...NAMES);
const act: fc.Arbitrary<Act> = fc.oneof(
  { weight: 4, arbitrary: fc.record({ kind: fc.constant('add' as const), name }) },
  { weight: 1, arbitrary: fc.record({ kind: fc.constantFrom('remove' as const, 'heal' as const), name }) },
  {
    weight: 2,
    arbitrary: fc.record({
      kind: fc.constant('rename' as const),
      name,
      to: fc.constantFrom(...NAMES, 'other', 'third'),
    }),
  },
  { weight: 3, arbitrary: fc.record({ kind: fc.constantFrom('wire' as const, 'unwire' as const), from: name, name }) },
  {
    weight: 2,
    arbitrary: fc.record({ kind: fc.constant('set' as const), name, value: fc.integer(), joins: fc.boolean() }),
  },
  {
    weight: 2,
    arbitrary: fc.record({ kind: fc.constant('move' as const), name, x: fc.integer({ min: -400, max: 400 }) }),
  },
  { weight: 3, arbitrary: fc.record({ kind: fc.constantFrom('undo' as const, 'redo' as const) }) },
);

function recipeOf(one: Act, document: SheetDocument): { recipe: Recipe; joins?: string } | undefined {
  const { blocks } = document.sheet();
  const there = 'name' in one && Object.hasOwn(blocks, one.name);
  switch (one.kind) {
    case 'add':
      return there ? undefined : { recipe: (sheet) => void addBlock(sheet, '', one.name, { is: 'gain' }, [0, 0]) };
    case 'remove':
    case 'heal': {
      const passage = one.kind === 'heal' ? () => ({ input: 'u', output: 'y' }) : undefined;
      return { recipe: (sheet) => void removeBlocks(sheet, '', [one.name], passage) };
    }
    case 'rename':
      return there && !Object.hasOwn(blocks, one.to)
        ? { recipe: (sheet) => renameBlock(sheet, '', one.name, one.to) }
        : undefined;
    case 'wire':
      return there && Object.hasOwn(blocks, one.from)
        ? { recipe: (sheet) => void wire(sheet, '', `${one.from}.y`, `${one.name}.u`) }
        : undefined;
    case 'unwire':
      return { recipe: (sheet) => void unwire(sheet, '', `${one.name}.u`) };
    case 'set':
      return {
        recipe: (sheet) => void setSetting(sheet, '', one.name, 'gain', one.value),
        ...(one.joins ? { joins: `gain of ${one.name}` } : {}),
      };
    case 'move':
      return { recipe: (sheet) => void move(sheet, '', { [one.name]: [one.x, 0] }) };
    default:
      return undefined;
  }
}

/** Plays acts on a document whose clock stands still, so that joining is decided by the acts alone. */
function play(acts: readonly Act[]): { document: SheetDocument; states: State[]; strokes: Stroke[] } {
  const document = createDocument(blankSheet(), () => 0);
  const states = [document.state()];
  const strokes: Stroke[] = [];
  document.subscribe((change) => {
    if (change === undefined) return;
    states.push(change.state);
    strokes.push(change.stroke);
  });
  for (const one of acts) {
    if (one.kind === 'undo') document.undo();
    else if (one.kind === 'redo') document.redo();
    else {
      const made = recipeOf(one, document);
      if (made !== undefined) document.change(one.kind, '', made.recipe, made.joins);
    }
  }
  return { document, states, strokes };
}

const acts = fc.array(act, { maxLength: 40 });

describe('any history', () => {
  test('undone to its start gives the sheet it began with, and redone gives the sheet it ended with', () => {
    fc.assert(
      fc.property(acts, (done) => {
        const { document } = play(done);
        const end = document.sheet();
        let steps = 0;
        while (document.undo() !== undefined) steps++;
        expect(document.sheet()).toEqual(blankSheet());
        for (let step = 0; step < steps; step++) document.redo();
        expect(document.state().past).toHaveLength(steps);
        expect(document.sheet()).toEqual(end);
      }),
      { numRuns: 300 },
    );
  });

  test('undo after a change gives the very sheet before it, byte for byte once saved', () => {
    fc.assert(
      fc.property(acts, act, (done, last) => {
        const { document } = play(done);
        const made = recipeOf(last, document);
        fc.pre(made !== undefined);
        const before = saveSheet(document.sheet());
        if (!document.change('last', '', made.recipe)) return;
        document.undo();
        expect(saveSheet(document.sheet())).toBe(before);
      }),
      { numRuns: 300 },
    );
  });

  test('replayed from its strokes gives the same state, with all that can be undone and redone', () => {
    fc.assert(
      fc.property(acts, (done) => {
        const { document, strokes } = play(done);
        const copy: Stroke[] = structuredClone(strokes);
        expect(copy.reduce(after, stateOf(blankSheet()))).toEqual(document.state());
      }),
      { numRuns: 200 },
    );
  });

  test('replayed from any state on the way gives the same end', () => {
    fc.assert(
      fc.property(acts, fc.nat(), (done, cut) => {
        const { document, states, strokes } = play(done);
        const at = cut % states.length;
        const start = states[at];
        if (start === undefined) return;
        expect(strokes.slice(at).reduce(after, structuredClone(start))).toEqual(document.state());
      }),
      { numRuns: 200 },
    );
  });

  test('leaves every block one id of its own and no id without a block', () => {
    fc.assert(
      fc.property(acts, (done) => {
        const { sheet, ids } = play(done).document.state().held;
        expect(Object.keys(ids).sort()).toEqual(
          Object.keys(sheet.blocks)
            .map((one) => `/${one}`)
            .sort(),
        );
        expect(new Set(Object.values(ids)).size).toBe(Object.keys(ids).length);
      }),
      { numRuns: 200 },
    );
  });

  test('never leaves a wire at a block that was removed', () => {
    fc.assert(
      fc.property(acts, (done) => {
        const { document } = play(done);
        for (const [to, from] of Object.entries(document.sheet().wires)) {
          expect(document.sheet().blocks).toHaveProperty(endOf(to).block);
          expect(document.sheet().blocks).toHaveProperty(endOf(from).block);
        }
      }),
      { numRuns: 200 },
    );
  });
});

describe('steps', () => {
  test('with the same key join while they follow within a second, and undo as one', () => {
    let now = 0;
    const document = createDocument(blankSheet(), () => now);
    document.change('add', '/law', (sheet) => void addBlock(sheet, '', 'law', { is: 'gain' }, [0, 0]));
    const type = (value: number) =>
      document.change(`type ${value}`, '/law', (sheet) => void setSetting(sheet, '', 'law', 'gain', value), 'gain');
    type(1);
    now = 900;
    type(12);
    now = 1800;
    type(123);
    expect(document.state().past.map((entry) => entry.label)).toEqual(['add', 'type 123']);
    now = 2900;
    type(1234);
    expect(document.state().past).toHaveLength(3);
    document.undo();
    document.undo();
    expect(document.sheet().blocks.law).toEqual({ is: 'gain' });
  });

  test('keep a block the same thing on screen through a rename and its undoing', () => {
    const document = createDocument(blankSheet());
    document.change('add', '/law', (sheet) => void addBlock(sheet, '', 'law', { is: 'gain' }, [0, 0]));
    const id = document.idOf('', 'law');
    document.change('rename', '/rule', (sheet) => renameBlock(sheet, '', 'law', 'rule'));
    expect(document.idOf('', 'rule')).toBe(id);
    document.change('add', '/law', (sheet) => void addBlock(sheet, '', 'law', { is: 'gain' }, [0, 0]));
    expect(document.idOf('', 'law')).not.toBe(id);
    document.undo();
    document.undo();
    expect(document.idOf('', 'law')).toBe(id);
  });

  test('are refused while the sheet is locked', () => {
    const document = createDocument(blankSheet());
    document.lock('another tab writes');
    expect(document.change('add', '', (sheet) => void addBlock(sheet, '', 'law', { is: 'gain' }, [0, 0]))).toBe(false);
    expect(document.sheet()).toEqual(blankSheet());
  });

  test('that change nothing are no steps', () => {
    const document = createDocument(blankSheet());
    expect(document.change('nothing', '', (sheet) => void unwire(sheet, '', 'a.b'))).toBe(false);
    expect(document.state().past).toHaveLength(0);
  });
});
