/** Laws that are measured: each a sheet, a run of it, and the same law in C written by hand, with the same guards and bits. */

import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { library } from '../../blocks/library.ts';
import { cFields } from '../../compiler/c/emit.ts';
import { localType } from '../../compiler/c/literals.ts';
import { compile } from '../../compiler/compile.ts';
import type { Program, Slot } from '../../compiler/ir/program.ts';
import { loadSheet } from '../../compiler/sheet/load.ts';
import type { Sheet } from '../../compiler/sheet/sheet.ts';
import { prepareRun } from '../../runtime/bench/run.ts';

export const TICKS = 2_000;

export interface Law {
  readonly name: string;
  /** From the top. */
  readonly sheet: string;
  readonly run: string;
  /** Name of the files by hand, and what its functions and types begin with. */
  readonly hand: string;
  readonly prefix: string;
  /** The most instructions of the emitted C for one of that by hand; a bit more than was measured. */
  readonly most: { readonly host: number; readonly board: number };
}

export const laws: readonly Law[] = [
  {
    name: 'row_scout',
    sheet: 'samples/row_scout/row_scout.sheet.json',
    run: 'push_left',
    hand: 'row_scout_by_hand',
    prefix: 'by_hand',
    most: { host: 1.05, board: 1.05 },
  },
  {
    name: 'rotator',
    sheet: 'tests/speed/rotator.sheet.json',
    run: 'turn',
    hand: 'rotator_by_hand',
    prefix: 'rotator_by_hand',
    most: { host: 1.05, board: 1.1 },
  },
  {
    name: 'filter_bank',
    sheet: 'tests/speed/filter_bank.sheet.json',
    run: 'noisy',
    hand: 'filter_bank_by_hand',
    prefix: 'filter_bank_by_hand',
    most: { host: 1.05, board: 1.05 },
  },
];

export interface Recorded {
  readonly law: Law;
  readonly sheet: Sheet;
  readonly program: Program;
  readonly inputs: readonly Slot[];
  readonly outputs: readonly Slot[];
  /** Raw inputs, a row a tick, in the order of `inputs`. */
  readonly rows: readonly (readonly number[])[];
}

/** What the bench gives to the law's inputs, tick by tick. */
export async function recorded(law: Law): Promise<Recorded> {
  const { value: sheet, findings } = loadSheet(readFileSync(join(import.meta.dirname, '../..', law.sheet), 'utf8'));
  if (sheet === undefined) throw new Error(`${law.sheet}: ${JSON.stringify(findings)}`);
  const program = compile(sheet, { library, name: law.name }).value?.controller;
  const run = await prepareRun(sheet, { library, name: law.name, run: law.run, engine: 'wasm' }, []);
  if (program === undefined || run === undefined) throw new Error(`${law.name} does not compile`);
  const inputs = program.slots.filter((slot) => slot.kind === 'input');
  const outputs = program.slots.filter((slot) => slot.kind === 'output');
  const rows = Array.from({ length: TICKS }, () => {
    run.bench.advance(1);
    return inputs.map((slot) => run.bench.read(slot.name) ?? 0);
  });
  return { law, sheet, program, inputs, outputs, rows };
}

/** The recording as C: `in`, a row a tick, and a checksum over what came out. */
export function playedC(header: string, prefix: string, { program, inputs, outputs, rows }: Recorded): string {
  const { places } = cFields(program);
  const field = (slot: Slot): string => places.get(slot.id)?.name ?? '';
  const number = (slot: Slot, x: number): string =>
    slot.type === 'bool' || slot.type === 'i32' ? String(x) : `(float)${Number.isInteger(x) ? `${x}.0` : x}`;
  const cells = rows.map(
    (row) => `{${inputs.map((slot, i) => `.${field(slot)} = ${number(slot, row[i] ?? 0)}`).join(', ')}}`,
  );
  const sums = outputs.map((slot) =>
    slot.type === 'bool'
      ? `word = one->${field(slot)};`
      : `{ const ${localType[slot.type]} x = one->${field(slot)}; memcpy(&word, &x, 4); }`,
  );
  return `#include "${header}"
#include <stdint.h>
#include <string.h>
#define TICKS ${rows.length}
static const ${prefix}_in_t in[TICKS] = {
${cells.join(',\n')}};
static ${prefix}_out_t out[TICKS];
static ${prefix}_t m;
static uint32_t summed(const ${prefix}_out_t *one, uint32_t sum)
{
    uint32_t word = 0;
    ${sums.map((line) => `${line} sum = (sum ^ word) * 16777619U;`).join('\n    ')}
    return sum;
}
`;
}
