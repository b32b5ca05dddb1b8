/** The checker's own thread: a sheet in; its findings, and what was found out about rates, sides and ports, out. */
import { library } from '../../blocks/library.ts';
import { compile } from '../../compiler/compile.ts';
import type { Finding } from '../../compiler/findings.ts';
import type { Sheet } from '../../compiler/sheet/sheet.ts';
import { type Beside, readerOf } from '../document/beside.ts';
import { unitsShown } from './units_shown.ts';

export interface Question {
  readonly number: number;
  readonly sheet: Sheet;
  /** Files beside the sheet, where they are not those of the question before. */
  readonly beside?: Beside;
}

/** What the compiler found out about a block, by its dotted path. */
export interface SolvedPart {
  readonly every: number;
  readonly phase: number;
  readonly side: 'plant' | 'controller' | 'shore';
  readonly sizes: Readonly<Record<string, number>>;
  /** Units of its ports, memories and settings in words; empty for none. */
  readonly units: Readonly<Record<string, string>>;
}

export interface Answer {
  readonly number: number;
  readonly findings: readonly Finding[];
  /** Absent while the sheet has errors. */
  readonly solved: Readonly<Record<string, SolvedPart>> | undefined;
  readonly failed: string | undefined;
}

self.onmessage = ({ data }: MessageEvent<Question>) => self.postMessage(answer(data));

let files: Beside = {};

function answer({ number, sheet, beside = files }: Question): Answer {
  files = beside;
  try {
    const { value, findings } = compile(sheet, { library, files: readerOf(files) });
    if (value === undefined) return { number, findings, solved: undefined, failed: undefined };
    const unit = unitsShown(value);
    const solved: Record<string, SolvedPart> = {};
    for (const [path, { every, phase, side, signals }] of value.resolved.instances)
      solved[path] = {
        every,
        phase,
        side,
        sizes: Object.fromEntries([...signals].map(([name, { rows, columns }]) => [name, rows * columns])),
        units: Object.fromEntries([...signals.keys()].map((name) => [name, unit(path, name)])),
      };
    return { number, findings, solved, failed: undefined };
  } catch (error) {
    const failed = `The checker met a mistake of its own (${String(error)}); the sheet is safe.`;
    return { number, findings: [], solved: undefined, failed };
  }
}
