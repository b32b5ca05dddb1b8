/** What an exported program must answer to a run: its raw inputs, replayed through the program with the sheet's own settings. */

import { type Column, mostNumbers, type Reference, recordReference } from '../../compiler/c/reference.ts';
import type { Compiled } from '../../compiler/compile.ts';
import type { Finding } from '../../compiler/findings.ts';
import { applyEdits } from '../../compiler/sheet/edits.ts';
import type { Sheet } from '../../compiler/sheet/sheet.ts';
import { createWasmMachine } from '../../compiler/wasm/machine.ts';
import { prepareRun, type RunRequest } from './run.ts';

/**
 * Records a run of a sheet and replays it; `compiled` is the sheet as exported. Above `most` numbers
 * there is a checksum a tick. Undefined after findings were reported.
 */
export async function selfcheckReference(
  sheet: Sheet,
  compiled: Compiled,
  request: RunRequest & { readonly run: string },
  findings: Finding[],
  most = mostNumbers,
): Promise<Reference | undefined> {
  // What the run records and expects has no part in it.
  const bare = ['record', 'expect'].map((key) => ({ path: ['runs', request.run, key] }));
  const prepared = await prepareRun(applyEdits(sheet, bare), request, findings);
  if (prepared === undefined) return undefined;
  const { bench, ticks } = prepared;
  const { controller } = compiled;
  const inputs: Column[] = controller.slots
    .filter((slot) => slot.kind === 'input')
    .flatMap((slot) =>
      Array.from({ length: slot.length }, (_, index) => ({ slot: slot.id, index, numbers: new Float64Array(ticks) })),
    );
  for (let tick = 0; tick < ticks; tick++) {
    bench.advance(1);
    for (const { slot, index, numbers } of inputs) {
      const name = controller.slots[slot]?.name ?? '';
      const raw = bench.read(name, index);
      if (raw === undefined) throw new Error(`The bench has no input ${name}.`);
      numbers[tick] = raw;
    }
  }
  return recordReference(await createWasmMachine(controller), controller, inputs, ticks, most);
}
