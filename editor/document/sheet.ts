/** The sheet in memory: `change` is the only way to write it, and every change is one named step that can be undone. */
import { type Draft, produceWithPatches } from 'immer';
import type { Sheet } from '../../compiler/sheet/sheet.ts';
import { after, type Entry, type Held, type State, type Stroke } from './history.ts';

/** A sheet as a change may write to it. */
export type { Draft } from 'immer';

/** A block that got another name, within its scope (empty, or the shelf name of the group it stands in). */
export interface Rename {
  readonly scope: string;
  readonly from: string;
  readonly to: string;
}

/** Writes into a draft of the sheet; says which blocks it renamed, so that they stay the same things on screen. */
export type Recipe = (sheet: Draft<Sheet>) => readonly Rename[] | undefined;

export interface Change {
  readonly state: State;
  readonly before: Held;
  readonly stroke: Stroke;
  /** What was done, undone or redone. */
  readonly entry: Entry;
}

export interface SheetDocument {
  state(): State;
  sheet(): Sheet;
  /** Why nothing can be changed now, if so. */
  locked(): string | undefined;
  lock(why: string | undefined): void;
  /** The id of a block, the same through renames and their undoing. */
  idOf(scope: string, name: string): string;
  /** One named step; false when the recipe changed nothing or nothing may be changed. `joins` merges it into the step before while typing goes on. */
  change(label: string, place: string, recipe: Recipe, joins?: string): boolean;
  undo(): Entry | undefined;
  redo(): Entry | undefined;
  /** Does what another tab or the journal did. */
  follow(stroke: Stroke): void;
  /** Puts another sheet in its place; no step, nothing to undo. */
  replace(state: State): void;
  /** Hears of every new state; `change` is undefined when the whole sheet was replaced. */
  subscribe(listener: (change: Change | undefined) => void): () => void;
}

export function stateOf(sheet: Sheet): State {
  const [held] = produceWithPatches<Held>({ sheet, ids: {} }, (draft) => settleIds(draft, []));
  return { held, past: [], future: [] };
}

export function createDocument(first: Sheet, now: () => number = Date.now): SheetDocument {
  let state = stateOf(first);
  let locked: string | undefined;
  const listeners = new Set<(change: Change | undefined) => void>();
  const tell = (change: Change | undefined) => {
    for (const listener of listeners) listener(change);
  };
  const make = (stroke: Stroke): Entry | undefined => {
    const entry = stroke.kind === 'do' ? stroke.entry : state[stroke.kind === 'undo' ? 'past' : 'future'].at(-1);
    if (entry === undefined) return undefined;
    const before = state.held;
    state = after(state, stroke);
    tell({ state, before, stroke, entry });
    return entry;
  };
  return {
    state: () => state,
    sheet: () => state.held.sheet,
    locked: () => locked,
    lock(why) {
      locked = why;
    },
    idOf: (scope, name) => state.held.ids[`${scope}/${name}`] ?? `${scope}/${name}`,
    change(label, place, recipe, joins) {
      if (locked !== undefined) return false;
      const [, forward, back] = produceWithPatches(state.held, (draft) => settleIds(draft, recipe(draft.sheet) ?? []));
      if (forward.length === 0) return false;
      const entry: Entry = { label, place, forward, back, at: now(), ...(joins === undefined ? {} : { joins }) };
      make({ kind: 'do', entry });
      return true;
    },
    undo: () => (locked === undefined ? make({ kind: 'undo' }) : undefined),
    redo: () => (locked === undefined ? make({ kind: 'redo' }) : undefined),
    follow: (stroke) => void make(stroke),
    replace(next) {
      state = next;
      tell(undefined);
    },
    subscribe(listener) {
      listeners.add(listener);
      return () => listeners.delete(listener);
    },
  };
}

/** Every block has an id: moved with its rename, new for a new block, gone with a removed one. */
function settleIds(held: Draft<Held>, renames: readonly Rename[]): void {
  for (const { scope, from, to } of renames) {
    const id = held.ids[`${scope}/${from}`];
    if (id === undefined) continue;
    delete held.ids[`${scope}/${from}`];
    held.ids[`${scope}/${to}`] = id;
  }
  const present = new Set<string>();
  for (const [scope, blocks] of scopesOf(held.sheet))
    for (const name of Object.keys(blocks)) present.add(`${scope}/${name}`);
  for (const key of Object.keys(held.ids)) if (!present.has(key)) delete held.ids[key];
  const taken = new Set(Object.values(held.ids));
  for (const key of present) {
    if (held.ids[key] !== undefined) continue;
    let id = key;
    for (let n = 2; taken.has(id); n++) id = `${key}~${n}`;
    held.ids[key] = id;
    taken.add(id);
  }
}

/** The places blocks stand in: the sheet and the groups on its shelf. */
function scopesOf(sheet: Draft<Sheet>): [string, object][] {
  const scopes: [string, object][] = [['', sheet.blocks]];
  for (const [name, item] of Object.entries(sheet.shelf ?? {}))
    if (typeof item !== 'string') scopes.push([name, item.blocks]);
  return scopes;
}
