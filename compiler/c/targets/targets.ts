/** Every target there is: what the command offers is read from this table. */

import { avr } from './avr.ts';
import { cortexM } from './cortex_m.ts';
import { fmu } from './fmu.ts';
import { plain } from './plain.ts';
import { posix } from './posix.ts';
import { riscv } from './riscv.ts';
import { sketch } from './sketch.ts';
import type { Target } from './target.ts';

export const targets: readonly Target[] = [plain, cortexM, riscv, avr, posix, sketch, fmu];
