/** Keeps every step as it happens in IndexedDB, so that a killed tab comes back where it was; one tab writes, others follow. */
import { type DBSchema, type IDBPDatabase, openDB } from 'idb';
import { after, type State, type Stroke } from './history.ts';

/** Strokes between two snapshots. */
const SNAPSHOT_EVERY = 200;

/** How long, in milliseconds, a tab waits for the right to write before it follows. */
const LOCK_PATIENCE = 300;

/** A sheet that is kept in this browser. */
export interface KeptSheet {
  readonly id: string;
  /** Of its file, without `.sheet.json`. */
  readonly name: string;
  /** Milliseconds since 1970. */
  readonly opened: number;
  /** When a file was last written with all that was done; absent while it is in this browser only. */
  readonly written?: number;
}

export interface Restored {
  readonly kept: KeptSheet;
  readonly state: State;
  /** Half-typed text by place. */
  readonly drafts: Readonly<Record<string, string>>;
  /** Files beside it, by name. */
  readonly beside: Readonly<Record<string, string>>;
  /** What was looked at, as the session left it. */
  readonly view: unknown;
}

export interface KeepingStatus {
  readonly kept: KeptSheet | undefined;
  /** When the last step was kept, milliseconds since 1970. */
  readonly at: number | undefined;
  /** Another tab writes this sheet; this one follows it. */
  readonly following: boolean;
  /** Why nothing can be kept. */
  readonly failed: string | undefined;
}

export interface Journal {
  status(): KeepingStatus;
  subscribe(listener: () => void): () => void;
  sheets(): Promise<KeptSheet[]>;
  /** The sheet opened last, or the one asked for, as it was left. */
  restore(id?: string, show?: (restored: Restored) => void): Promise<Restored | undefined>;
  /** Starts keeping a new sheet. */
  begin(name: string, state: State, show: () => void): Promise<void>;
  rename(name: string): void;
  append(stroke: Stroke, state: State): void;
  draft(place: string, text: string | undefined): void;
  view(view: unknown): void;
  /** Keeps a file beside the sheet, or, without a text, forgets it. */
  beside(name: string, text: string | undefined): void;
  /** A file now holds all that was done. */
  written(): void;
  forget(id: string): Promise<void>;
  /** Makes this tab the one that writes. */
  takeOver(): void;
  /** Hears what the writing tab does; `undefined` when it has to be restored anew. */
  onFollow(listener: (stroke: Stroke | undefined) => void): void;
}

interface Tables extends DBSchema {
  sheets: { key: string; value: KeptSheet };
  snapshots: { key: string; value: { id: string; seq: number; state: State } };
  strokes: { key: [string, number]; value: { id: string; seq: number; stroke: Stroke } };
  drafts: { key: [string, string]; value: { id: string; place: string; text: string } };
  views: { key: string; value: { id: string; view: unknown } };
  beside: { key: [string, string]; value: { id: string; name: string; text: string } };
}

interface Message {
  readonly seq: number;
  readonly stroke: Stroke;
}

export async function openJournal(): Promise<Journal> {
  const listeners = new Set<() => void>();
  let status: KeepingStatus = { kept: undefined, at: undefined, following: false, failed: undefined };
  const put = (change: Partial<KeepingStatus>) => {
    status = { ...status, ...change };
    for (const listener of listeners) listener();
  };
  const failed = (error: unknown) =>
    put({
      failed: `This browser keeps nothing (${error instanceof Error ? error.message : String(error)}); save a file.`,
    });

  const base = await openTables().catch((error: unknown) => {
    failed(error);
    return undefined;
  });
  let seq = 0;
  let since = 0;
  let asked = false;
  let channel: BroadcastChannel | undefined;
  let letGo: (() => void) | undefined;
  let heard: (stroke: Stroke | undefined) => void = () => {};

  const write = (work: (tables: IDBPDatabase<Tables>) => Promise<unknown>, done?: () => void) => {
    if (base === undefined || status.following) return;
    work(base).then(done, failed);
  };
  const kept = () => put({ at: Date.now() });

  /** Writes while this tab holds the sheet's lock; resolves once it does, and follows whoever takes it away. */
  const claim = (id: string, options: LockOptions): Promise<void> =>
    new Promise((held) => {
      navigator.locks
        .request(`loopwright ${id}`, options, () => {
          if (status.kept?.id !== id) return undefined;
          put({ following: false });
          held();
          return new Promise<void>((resolve) => {
            letGo = resolve;
          });
        })
        .catch(() => {
          if (status.kept?.id !== id) return;
          put({ following: true });
          void claim(id, {});
        });
    });

  /** `show` puts the sheet on the paper as its name comes up: neither is ever seen, or saved, with the other's. */
  const turnTo = async (sheet: KeptSheet, show?: () => void) => {
    letGo?.();
    letGo = undefined;
    channel?.close();
    put({ kept: sheet, following: true, at: undefined });
    show?.();
    channel = new BroadcastChannel(`loopwright ${sheet.id}`);
    channel.onmessage = ({ data }: MessageEvent<Message>) => {
      if (!status.following) return;
      if (data.seq !== seq + 1) return heard(undefined);
      seq = data.seq;
      heard(data.stroke);
    };
    const patience = new Promise((resolve) => setTimeout(resolve, LOCK_PATIENCE));
    await Promise.race([claim(sheet.id, {}), patience]);
  };

  const snapshot = async (id: string, state: State) => {
    if (base === undefined) return;
    const upTo = seq;
    const work = base.transaction(['snapshots', 'strokes'], 'readwrite');
    await work.objectStore('snapshots').put({ id, seq: upTo, state });
    await work.objectStore('strokes').delete(IDBKeyRange.bound([id, 0], [id, upTo]));
    await work.done;
  };

  const sheets = async () => {
    const all = (await base?.getAll('sheets')) ?? [];
    return all.sort((a, b) => b.opened - a.opened);
  };

  return {
    status: () => status,
    subscribe(listener) {
      listeners.add(listener);
      return () => listeners.delete(listener);
    },
    sheets,
    async restore(id, show) {
      if (base === undefined) return undefined;
      try {
        const sheet = id === undefined ? (await sheets())[0] : await base.get('sheets', id);
        const start = sheet === undefined ? undefined : await base.get('snapshots', sheet.id);
        if (sheet === undefined || start === undefined) return undefined;
        const span = IDBKeyRange.bound([sheet.id, start.seq + 1], [sheet.id, Number.MAX_SAFE_INTEGER]);
        const strokes = await base.getAll('strokes', span);
        const texts = await base.getAll('drafts', IDBKeyRange.bound([sheet.id, ''], [sheet.id, '\uffff']));
        const files = await base.getAll('beside', IDBKeyRange.bound([sheet.id, ''], [sheet.id, '\uffff']));
        const view = (await base.get('views', sheet.id))?.view;
        seq = strokes.at(-1)?.seq ?? start.seq;
        since = strokes.length;
        const restored: Restored = {
          kept: sheet,
          state: strokes.reduce((state, { stroke }) => after(state, stroke), start.state),
          drafts: Object.fromEntries(texts.map(({ place, text }) => [place, text])),
          beside: Object.fromEntries(files.map(({ name, text }) => [name, text])),
          view,
        };
        await turnTo(sheet, () => show?.(restored));
        return restored;
      } catch (error) {
        failed(error);
        return undefined;
      }
    },
    async begin(name, state, show) {
      const sheet: KeptSheet = { id: crypto.randomUUID(), name, opened: Date.now() };
      seq = 0;
      since = 0;
      await turnTo(sheet, show);
      write(async (tables) => {
        await tables.put('sheets', sheet);
        await snapshot(sheet.id, state);
      }, kept);
    },
    rename(name) {
      const sheet = status.kept;
      if (sheet === undefined) return;
      const renamed = { ...sheet, name };
      put({ kept: renamed });
      write((tables) => tables.put('sheets', renamed), kept);
    },
    append(stroke, state) {
      const sheet = status.kept;
      if (sheet === undefined || status.following) return;
      seq += 1;
      const row = { id: sheet.id, seq, stroke };
      write((tables) => tables.put('strokes', row), kept);
      channel?.postMessage({ seq, stroke } satisfies Message);
      if (sheet.written !== undefined) {
        const { written: _written, ...unwritten } = sheet;
        put({ kept: unwritten });
        write((tables) => tables.put('sheets', unwritten));
      }
      since += 1;
      if (since >= SNAPSHOT_EVERY) {
        since = 0;
        write(() => snapshot(sheet.id, state));
      }
      if (!asked) {
        asked = true;
        void navigator.storage?.persist?.();
      }
    },
    draft(place, text) {
      const id = status.kept?.id;
      if (id === undefined) return;
      write((tables) =>
        text === undefined ? tables.delete('drafts', [id, place]) : tables.put('drafts', { id, place, text }),
      );
    },
    beside(name, text) {
      const id = status.kept?.id;
      if (id === undefined) return;
      write(
        (tables) =>
          text === undefined ? tables.delete('beside', [id, name]) : tables.put('beside', { id, name, text }),
        kept,
      );
    },
    view(view) {
      const id = status.kept?.id;
      if (id !== undefined) write((tables) => tables.put('views', { id, view }));
    },
    written() {
      if (status.kept === undefined) return;
      const sheet = { ...status.kept, written: Date.now() };
      put({ kept: sheet });
      write((tables) => tables.put('sheets', sheet));
    },
    async forget(id) {
      if (base === undefined) return;
      const work = base.transaction(['sheets', 'snapshots', 'strokes', 'drafts', 'views', 'beside'], 'readwrite');
      await work.objectStore('sheets').delete(id);
      await work.objectStore('snapshots').delete(id);
      await work.objectStore('strokes').delete(IDBKeyRange.bound([id, 0], [id, Number.MAX_SAFE_INTEGER]));
      await work.objectStore('drafts').delete(IDBKeyRange.bound([id, ''], [id, '\uffff']));
      await work.objectStore('beside').delete(IDBKeyRange.bound([id, ''], [id, '\uffff']));
      await work.objectStore('views').delete(id);
      await work.done;
    },
    takeOver() {
      const id = status.kept?.id;
      if (id !== undefined) void claim(id, { steal: true });
    },
    onFollow(listener) {
      heard = listener;
    },
  };
}

function openTables(): Promise<IDBPDatabase<Tables>> {
  return openDB<Tables>('loopwright', 2, {
    upgrade(base, before) {
      if (before < 2) base.createObjectStore('beside', { keyPath: ['id', 'name'] });
      if (before >= 1) return;
      base.createObjectStore('sheets', { keyPath: 'id' });
      base.createObjectStore('snapshots', { keyPath: 'id' });
      base.createObjectStore('strokes', { keyPath: ['id', 'seq'] });
      base.createObjectStore('drafts', { keyPath: ['id', 'place'] });
      base.createObjectStore('views', { keyPath: 'id' });
    },
  });
}
