/** What compiling a sheet gives. */

import type { Program, Real } from '../ir/program.ts';
import type { Sheet } from '../sheet/sheet.ts';
import type { Definitions } from './definitions.ts';
import type { Flat } from './expand.ts';
import type { Lowered, Watch } from './lower.ts';
import type { Resolved } from './resolve.ts';
import type { Schedule } from './schedule.ts';
import type { PortUnit } from './wires.ts';

/** A sheet that compiles. */
export interface Compiled {
  readonly sheet: Sheet;
  readonly name: string;
  readonly number: Real;
  readonly flat: Flat;
  readonly resolved: Resolved;
  readonly definitions: Definitions;
  /** The exported program, simplified. */
  readonly controller: Program;
  /** Settings that the length of a delay line depends on: these cannot change while it runs. */
  readonly sizing: ReadonlySet<string>;
  readonly schedule: Schedule;
  /** Unit of a port, memory or setting in words: `rad/s`; empty for none. */
  readonly unit: PortUnit;
  /** The program with its plant, watched as asked. */
  bench(watch: Watch): Lowered;
}
