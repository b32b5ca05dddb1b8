/** What was done to a sheet, as data: strokes that can be replayed, undone and redone, each with its name and place. */
import { applyPatches, enablePatches, type Patch } from 'immer';
import type { Sheet } from '../../compiler/sheet/sheet.ts';

enablePatches();

/** The sheet with what must survive a rename: an id for every block, by `SCOPE/NAME` (the scope of the sheet itself is empty). */
export interface Held {
  readonly sheet: Sheet;
  readonly ids: Readonly<Record<string, string>>;
}

/** One thing done: its name, where it happened, and how to do it again or take it back. */
export interface Entry {
  readonly label: string;
  /** Where to look when it is undone: `SCOPE/NAME`, a dotted port, a view (`run`), or empty for the sheet. */
  readonly place: string;
  readonly forward: readonly Patch[];
  readonly back: readonly Patch[];
  /** Entries in a row with the same key become one while they follow within a second. */
  readonly joins?: string;
  /** Milliseconds, for joining only. */
  readonly at: number;
}

export interface State {
  readonly held: Held;
  readonly past: readonly Entry[];
  readonly future: readonly Entry[];
}

/** All that can happen to a state; the journal stores these, and replaying them gives the state again. */
export type Stroke =
  | { readonly kind: 'do'; readonly entry: Entry }
  | { readonly kind: 'undo' }
  | { readonly kind: 'redo' };

/** How many steps can be taken back. */
export const DEPTH = 1000;

/** After this rest, in milliseconds, typing starts a step of its own. */
export const REST = 1000;

/** The state after a stroke; undoing or redoing with nothing there leaves it as it is. */
export function after(state: State, stroke: Stroke): State {
  switch (stroke.kind) {
    case 'do': {
      const held = applyPatches(state.held, stroke.entry.forward);
      return { held, past: pushed(state.past, stroke.entry), future: [] };
    }
    case 'undo': {
      const entry = state.past.at(-1);
      if (entry === undefined) return state;
      return {
        held: applyPatches(state.held, entry.back),
        past: state.past.slice(0, -1),
        future: [...state.future, entry],
      };
    }
    case 'redo': {
      const entry = state.future.at(-1);
      if (entry === undefined) return state;
      return {
        held: applyPatches(state.held, entry.forward),
        past: [...state.past, entry],
        future: state.future.slice(0, -1),
      };
    }
  }
}

/** Two entries as one: done in this order, undone in the other. */
export function composed(first: Entry, second: Entry): Entry {
  return {
    ...second,
    forward: [...first.forward, ...second.forward],
    back: [...second.back, ...first.back],
  };
}

function pushed(past: readonly Entry[], entry: Entry): Entry[] {
  const last = past.at(-1);
  if (last?.joins !== undefined && last.joins === entry.joins && entry.at - last.at < REST)
    return [...past.slice(0, -1), composed(last, entry)];
  return [...past, entry].slice(-DEPTH);
}
