/** Asks the compile worker what it finds in a sheet, newest sheet only; answers to older ones are dropped. */
import type { Finding } from '../../compiler/findings.ts';
import type { Sheet } from '../../compiler/sheet/sheet.ts';
import type { Beside } from '../document/beside.ts';
import type { Answer, Question, SolvedPart } from './compile.worker.ts';

/** What is known of a sheet: the findings, and the sheet they are about. */
export interface Checked {
  readonly sheet: Sheet | undefined;
  readonly findings: readonly Finding[];
  /** What was found out about the blocks, by dotted path; of the last sheet without errors. */
  readonly solved: Readonly<Record<string, SolvedPart>>;
  /** The present sheet is being looked at. */
  readonly busy: boolean;
  /** Why the checker has nothing to say. */
  readonly failed: string | undefined;
}

export interface Checker {
  latest(): Checked;
  subscribe(listener: () => void): () => void;
  /** Looks at a sheet; `anew` forgets what was known of the one before. */
  check(sheet: Sheet, anew: boolean): void;
  /** Looks at it again with the files that are beside it now. */
  again(): void;
}

/** How long a sheet must rest, in milliseconds, before it is looked at. */
const REST = 60;

const NOTHING: Checked = { sheet: undefined, findings: [], solved: {}, busy: false, failed: undefined };

/** `beside` gives the files beside the sheet. */
export function createChecker(beside: () => Beside): Checker {
  let latest = NOTHING;
  let newest: Sheet | undefined;
  let number = 0;
  let asked = 0;
  let answered = 0;
  let waiting: ReturnType<typeof setTimeout> | undefined;
  let worker: Worker | undefined;
  /** The files the worker knows. */
  let told: Beside | undefined;
  const listeners = new Set<() => void>();
  const put = (change: Partial<Checked>) => {
    latest = { ...latest, ...change };
    for (const listener of listeners) listener();
  };
  const start = (): Worker => {
    const made = new Worker(new URL('./compile.worker.ts', import.meta.url), { type: 'module' });
    made.onmessage = ({ data }: MessageEvent<Answer>) => {
      answered = data.number;
      if (data.number !== number) return ask();
      const { findings, solved = latest.solved, failed } = data;
      put({ sheet: newest, findings, solved, busy: false, failed });
    };
    made.onerror = () => {
      worker?.terminate();
      worker = undefined;
      told = undefined;
      answered = asked;
      put({ busy: false, failed: 'The checker stopped; the sheet is safe. It starts again at the next change.' });
    };
    return made;
  };
  /** Asks about the newest sheet, once the worker has answered what it was asked before. */
  const ask = () => {
    if (newest === undefined || answered !== asked) return;
    worker ??= start();
    asked = number;
    const files = beside();
    worker.postMessage({ number, sheet: newest, ...(files === told ? {} : { beside: files }) } satisfies Question);
    told = files;
  };
  return {
    latest: () => latest,
    subscribe(listener) {
      listeners.add(listener);
      return () => listeners.delete(listener);
    },
    check(sheet, anew) {
      if (sheet === newest) return;
      newest = sheet;
      number += 1;
      clearTimeout(waiting);
      if (anew) put({ ...NOTHING, busy: true });
      else if (!latest.busy) put({ busy: true });
      waiting = setTimeout(ask, REST);
    },
    again() {
      if (newest === undefined) return;
      number += 1;
      clearTimeout(waiting);
      put({ busy: true });
      waiting = setTimeout(ask, REST);
    },
  };
}
