/** Where a loop's phase goes at its crossover: what holding, computing and each block with a memory take. */

import type { Compiled } from '../stages/compiled.ts';
import type { Instance } from '../stages/resolve.ts';
import { factoredOf } from './factored.ts';
import { connected } from './minimal.ts';
import { response } from './response.ts';
import { type SheetModel, sheetModel } from './sheet_model.ts';
import { between } from './sheet_paths.ts';
import { type Cut, resolveRequest, type SheetRequest } from './sheet_request.ts';
import type { StateSpace } from './system.ts';

export interface LedgerLine {
  /** `hold`: half the time for which a value is held; `compute`: from sampling to acting; `block`: a block's own response. */
  readonly what: 'hold' | 'compute' | 'block';
  /** The block's path; empty for the others. */
  readonly name: string;
  /** Phase in degrees, negative where it is lost. */
  readonly degrees: number;
  /** Gain as a factor; 1 for the others. */
  readonly gain: number;
}

export interface Ledger {
  /** ω in rad/s. */
  readonly w: number;
  readonly lines: readonly LedgerLine[];
}

const DEGREES = 180 / Math.PI;

/**
 * The ledger of the loop cut at a wire, at ω. A block is listed when it remembers and one wire of the loop comes in: those where several ways
 * of the loop meet have no response of their own. Blocks that stand side by side each have theirs, so the lines need not add up.
 */
export function ledgerAt(compiled: Compiled, cut: string, hold: SheetRequest['hold'], w: number): Ledger {
  const asked = resolveRequest(compiled, { from: [cut], to: [cut], cut: [cut], hold }, []);
  const wire = asked?.cuts[0];
  if (asked === undefined || wire === undefined) return { w, lines: [] };
  const { tick } = compiled.resolved;
  const held = ticksHeld(compiled, wire);
  const lines: LedgerLine[] = [
    { what: 'hold', name: '', degrees: -(w * held * tick * DEGREES) / 2, gain: 1 },
    {
      what: 'compute',
      name: '',
      degrees: compiled.sheet.outputs === 'next_tick' ? -w * tick * DEGREES : 0,
      gain: 1,
    },
  ];
  const entries = entriesOf(compiled, wire);
  for (const every of new Set(entries.map(({ instance }) => instance.every)))
    lines.push(
      ...shares(
        compiled,
        entries.filter(({ instance }) => instance.every === every),
        hold,
        w,
      ),
    );
  return { w, lines };
}

/** Ticks for which the cut wire's value is held: the rate of what makes it or reads it, whichever is slower. */
function ticksHeld(compiled: Compiled, wire: Cut): number {
  const paths = [wire.source, ...wire.readers].map(({ port }) => port.slice(0, port.lastIndexOf('.')));
  const found = paths.flatMap((path) => compiled.resolved.instances.get(path) ?? []);
  return Math.max(1, ...found.filter(({ side }) => side !== 'plant').map(({ every }) => every));
}

interface Entry {
  readonly instance: Instance;
  readonly input: string;
  readonly output: string;
}

/** Blocks of the controller that remember, on the loop, with the one wire that comes in and the one that goes out. */
function entriesOf(compiled: Compiled, wire: Cut): readonly Entry[] {
  const way = between(compiled, wire.readers, [wire.source], [wire]);
  const made = new Set([...way].map(({ instance, name }) => `${instance.path}.${name}`));
  const onWay = new Set([...way].map(({ instance }) => instance));
  const read = new Set(
    [...onWay].flatMap(({ flat }) => [...flat.wires.values()].map(({ path, port }) => `${path}.${port}`)),
  );
  read.add(wire.source.port);
  const begins = new Set(wire.readers.map(({ port }) => port));
  return [...onWay].flatMap((instance) => {
    const { flat, path, side } = instance;
    if (side === 'plant' || !flat.text.memories.some(({ kind }) => kind !== 'state')) return [];
    const inputs = [...flat.wires].filter(
      ([name, source]) => made.has(`${source.path}.${source.port}`) || begins.has(`${path}.${name}`),
    );
    const outputs = flat.text.outputs.filter(({ name }) => made.has(`${path}.${name}`) && read.has(`${path}.${name}`));
    const [input, output] = [inputs[0]?.[0], outputs[0]?.name];
    if (inputs.length !== 1 || outputs.length !== 1 || input === undefined || output === undefined) return [];
    return [{ instance, input, output }];
  });
}

/** The response of each block alone, all of them cut loose in one model. */
function shares(compiled: Compiled, entries: readonly Entry[], hold: SheetRequest['hold'], w: number): LedgerLine[] {
  if (entries.length === 0) return [];
  const from = entries.map(({ instance, input }) => `${instance.path}.${input}`);
  const to = entries.map(({ instance, output }) => `${instance.path}.${output}`);
  const { value } = sheetModel(compiled, { from, to, cut: from, hold });
  if (value === undefined || value.samples !== 1) return [];
  return entries.flatMap(({ instance }, i) => {
    const { re, im } = response({ ...factoredOf(channel(value, i)), dt: value.sample }, w);
    const gain = Math.hypot(re, im);
    const degrees = Math.atan2(im, re) * DEGREES;
    const passes = Math.abs(degrees) < 1e-6 && Math.abs(gain - 1) < 1e-6;
    if (!(gain > 0) || !Number.isFinite(gain) || passes) return [];
    return [{ what: 'block' as const, name: instance.path, degrees, gain }];
  });
}

function channel({ system }: SheetModel, i: number): StateSpace {
  const { A, B, C, D, dt } = system;
  return connected({
    A,
    B: A.rows === 0 ? B : B.getColumnVector(i),
    C: A.rows === 0 ? C : C.getRowVector(i),
    D: D.subMatrix(i, i, i, i),
    dt,
  });
}
