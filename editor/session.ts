/** What is looked at and how: view, selection, focus mark, open strips. Never undone; kept beside the journal. */
import { createStore, type StoreApi } from 'zustand/vanilla';
import type { Area } from '../compiler/picture/marks.ts';
import type { Point, Segment } from '../compiler/sheet/sheet.ts';
import type { BrokenFile } from './document/files.ts';
import type { Change } from './document/sheet.ts';

export const VIEWS = ['draw', 'shape', 'run', 'ship'] as const;
export type View = (typeof VIEWS)[number];

export const REGIONS = ['bar', 'shelf', 'paper', 'margin', 'rail'] as const;
export type Region = (typeof REGIONS)[number];

/** One thing on the paper: a block by its name, a port as `block.port`, or a line by the input it feeds. */
export interface Mark {
  readonly on: 'block' | 'input' | 'output' | 'line';
  readonly at: string;
}

/** Where the paper is looked at from: its origin in screen pixels, and its scale. */
export interface Viewport {
  readonly x: number;
  readonly y: number;
  readonly zoom: number;
}

/** What find was opened for: anything, or a block that fits what was left hanging in the air. */
export interface Finding {
  readonly text: string;
  /** A port that the block to be added is to be wired to. */
  readonly from?: Mark;
  /** Where the block is to stand. */
  readonly at?: Point;
}

/** What the keys do on the paper for now. */
export type Mode =
  | { readonly is: 'idle' }
  /** A line hangs at a port; its fitting ports are numbered. */
  | { readonly is: 'wiring'; readonly from: Mark; readonly typed: string }
  /** Cards are carried by the arrow keys. */
  | { readonly is: 'carrying'; readonly names: readonly string[] };

/** A line that hangs at a port while it is drawn, and the place or port it is held over. */
export interface Pending {
  readonly from: Mark;
  readonly to: Point;
  readonly over: Mark | undefined;
}

export interface Session {
  readonly view: View;
  /** Another view under the present one, half and half. */
  readonly under: View | undefined;
  readonly theme: 'light' | 'dark' | undefined;
  /** The shelf group whose inside is drawn; empty for the sheet. */
  readonly scope: string;
  /** Which copy of that group, by its dotted path with a dot behind it; the first one where it is none. */
  readonly within: string;
  readonly mark: Mark | undefined;
  /** Names of blocks. */
  readonly selection: readonly string[];
  readonly viewport: Viewport;
  /** The purpose whose specimens are unrolled. */
  readonly shelf: string | undefined;
  readonly outline: boolean;
  readonly help: boolean;
  /** The block text of one's own that is edited, by its name on the shelf. */
  readonly text: string | undefined;
  readonly find: Finding | undefined;
  readonly mode: Mode;
  /** Where cards are while they are dragged or carried, by name. */
  readonly astray: Readonly<Record<string, Point>>;
  /** Lines that are held elsewhere while one of their segments is dragged. */
  readonly bent: Readonly<Record<string, readonly Segment[]>>;
  readonly pending: Pending | undefined;
  /** The field that is being edited: `name tilt`, `set tilt.corner`, `title`. */
  readonly editing: string | undefined;
  /** Half-typed text, by field. */
  readonly drafts: Readonly<Record<string, string>>;
  /** The output whose line the pointer rests on. */
  readonly hover: string | undefined;
  /** A file that could not be read, with its text. */
  readonly broken: BrokenFile | undefined;
  /** The finding gone to last, by its key. */
  readonly finding: string | undefined;
  /** What the mark is on is explained in the margin. */
  readonly why: boolean;
  /** Something has been run since the sheet was opened. */
  readonly ran: boolean;
  /** A run went with the page it was in. */
  readonly lost: boolean;
  /** What is to be brought into view next; the count makes asking twice heard twice. */
  readonly look: { readonly at: Area | 'all'; readonly count: number } | undefined;
  /** What is flashed after an undo: a place. */
  readonly flash: string | undefined;
  /** The last thing said, for those who listen and as a line in the margin. */
  readonly said: { readonly text: string; readonly urgent: boolean; readonly count: number };
}

export type SessionStore = StoreApi<Session>;

const FIRST: Session = {
  view: 'draw',
  under: undefined,
  theme: undefined,
  scope: '',
  within: '',
  mark: undefined,
  selection: [],
  viewport: { x: 0, y: 0, zoom: 1 },
  shelf: undefined,
  outline: false,
  help: false,
  text: undefined,
  find: undefined,
  mode: { is: 'idle' },
  astray: {},
  bent: {},
  pending: undefined,
  editing: undefined,
  drafts: {},
  hover: undefined,
  broken: undefined,
  finding: undefined,
  why: false,
  ran: false,
  lost: false,
  look: undefined,
  flash: undefined,
  said: { text: '', urgent: false, count: 0 },
};

/** What is kept beside the journal. */
const KEPT = [
  'view',
  'under',
  'theme',
  'scope',
  'within',
  'mark',
  'selection',
  'viewport',
  'shelf',
  'outline',
  'text',
  'ran',
] as const;

export function createSession(): SessionStore {
  return createStore<Session>(() => FIRST);
}

/** Everything as on a sheet never looked at; the theme stays. */
export function startOver(session: SessionStore): void {
  const { theme, said } = session.getState();
  session.setState({ ...FIRST, theme, said }, true);
}

export function say(session: SessionStore, text: string, urgent = false): void {
  session.setState(({ said }) => ({ said: { text, urgent, count: said.count + 1 } }));
}

/** The part of a session that is kept. */
export function viewOf(session: Session): Pick<Session, (typeof KEPT)[number]> {
  return Object.fromEntries(KEPT.map((key) => [key, session[key]])) as Pick<Session, (typeof KEPT)[number]>;
}

/** Takes up a kept part again; anything that is not what it should be is left out. */
export function takeUp(session: SessionStore, kept: unknown, drafts: Readonly<Record<string, string>>): void {
  const view = typeof kept === 'object' && kept !== null ? (kept as Partial<Session>) : {};
  session.setState({ ...view, drafts, lost: view.ran === true });
}

/** The block a mark is on or at; for a line, the block it feeds; empty for a port of the group around. */
export function blockOf({ on, at }: Mark): string {
  return on === 'block' ? at : at.slice(0, Math.max(0, at.indexOf('.')));
}

/** Keeps marks and selection on the same things when blocks are renamed, and drops what is gone. */
export function followChange(session: SessionStore, change: Change): void {
  const { scope, mark, selection } = session.getState();
  const old = change.before.ids;
  const names = new Map<string, string>();
  const prefix = `${scope}/`;
  for (const [key, id] of Object.entries(change.state.held.ids))
    if (key.startsWith(prefix)) names.set(id, key.slice(prefix.length));
  const renamed = (name: string) => names.get(old[prefix + name] ?? '');
  const kept = selection.map(renamed).filter((name) => name !== undefined);
  const block = mark === undefined ? undefined : blockOf(mark);
  const markBlock = block === undefined || block === '' ? block : renamed(block);
  const moved =
    mark === undefined || markBlock === undefined
      ? undefined
      : { ...mark, at: mark.on === 'block' ? markBlock : `${markBlock}${mark.at.slice(block?.length)}` };
  const same = moved?.at === mark?.at;
  session.setState({
    ...(kept.length === selection.length && kept.every((name, i) => name === selection[i]) ? {} : { selection: kept }),
    ...(same ? {} : { mark: moved }),
  });
}

/** The id of a thing in the page, where it is mounted. */
export function thingId({ on, at }: Mark): string {
  return `thing_${on}_${at}`;
}
