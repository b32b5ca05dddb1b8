/** What leaves the sheet: C with its marks, the self-check of a run, and a comparison of both engines over that run. */

import { cFields, emitC } from '../../compiler/c/emit.ts';
import { type Column, patternOf, type Reference, recordReference } from '../../compiler/c/reference.ts';
import { emitSelfcheck } from '../../compiler/c/selfcheck.ts';
import { operationsAtMost } from '../../compiler/c/work.ts';
import { type Compiled, compile } from '../../compiler/compile.ts';
import type { Finding } from '../../compiler/findings.ts';
import { createInterpreter } from '../../compiler/ir/interpreter.ts';
import { workByBlock } from '../../compiler/stages/schedule.ts';
import type { Library } from '../../compiler/stages/shelf.ts';
import { selfcheckReference } from '../../runtime/bench/selfcheck.ts';
import type { Crate, CrateOrder, Proof } from './bench_messages.ts';

/** Fills a crate; undefined after errors were reported. */
export async function fillCrate(
  { sheet, name, number, run }: CrateOrder,
  library: Library,
  findings: Finding[],
): Promise<Crate | undefined> {
  const found = compile(sheet, { library, name, number });
  findings.push(...found.findings);
  const compiled = found.value;
  if (compiled === undefined) return undefined;
  const { controller, schedule } = compiled;
  const files = emitC(controller, { name, purpose: sheet.title, tick: String(sheet.tick) });
  let proof: Proof | undefined;
  if (run !== undefined) {
    const reference = await selfcheckReference(sheet, compiled, { library, name, number, run }, findings);
    if (reference === undefined) return undefined;
    files.push(emitSelfcheck(controller, reference, { name }));
    proof = compare(compiled, reference, run);
  }
  return {
    files,
    schedule,
    work: Object.fromEntries(workByBlock(controller)),
    memoryBytes: cFields(controller).bytes.m,
    operations: operationsAtMost(controller).get('tick') ?? 0,
    number,
    proof,
    findings,
  };
}

/** The same raw inputs through the plain interpreter, every value's bits against what WebAssembly gave. */
function compare({ controller }: Compiled, reference: Reference, run: string): Proof {
  const { ticks, values, inputs, expected } = reference;
  const most = expected.kind === 'numbers' ? Number.POSITIVE_INFINITY : 0;
  const other = recordReference(createInterpreter(controller), controller, inputs, ticks, most).expected;
  const base = { run, ticks, values };
  if (expected.kind === 'sums' && other.kind === 'sums') {
    const tick = expected.sums.findIndex((sum, i) => sum !== other.sums[i]);
    const different = expected.sums.reduce((count, sum, i) => count + (sum === other.sums[i] ? 0 : values), 0);
    return { ...base, different, first: tick < 0 ? undefined : { tick, name: 'checksum' } };
  }
  if (expected.kind !== 'numbers' || other.kind !== 'numbers') throw new Error('The two recordings differ in kind.');
  let different = 0;
  let first: Proof['first'];
  for (const [i, column] of expected.columns.entries()) {
    const type = controller.slots[column.slot]?.type ?? 'f64';
    const ours = other.columns[i];
    for (let tick = 0; tick < ticks; tick++) {
      if (bitsOf(type, column, tick) === (ours === undefined ? '' : bitsOf(type, ours, tick))) continue;
      different += 1;
      if (first === undefined || tick < first.tick) first = { tick, name: controller.slots[column.slot]?.name ?? '' };
    }
  }
  return { ...base, different, first };
}

function bitsOf(type: Parameters<typeof patternOf>[0], column: Column, tick: number): string {
  return patternOf(type, column.numbers[tick] ?? Number.NaN).words.join();
}
