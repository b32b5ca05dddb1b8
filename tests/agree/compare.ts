/** One sheet on every engine: what must agree, and the first place where it does not. */

import { library } from '../../blocks/library.ts';
import { comparableSlots } from '../../compiler/c/prepare.ts';
import { type Compiled, compile } from '../../compiler/compile.ts';
import type { Finding } from '../../compiler/findings.ts';
import { createInterpreter } from '../../compiler/ir/interpreter.ts';
import type { Machine } from '../../compiler/ir/machine.ts';
import type { Program } from '../../compiler/ir/program.ts';
import { verify } from '../../compiler/ir/verify.ts';
import type { Sheet } from '../../compiler/sheet/sheet.ts';
import { channelSlotName } from '../../compiler/stages/slots.ts';
import { createWasmMachine } from '../../compiler/wasm/machine.ts';
import { Direct } from './direct.ts';

/** Compiles, mending rates that do not fit as the finding proposes. */
export function compileMended(
  sheet: Sheet,
  number?: 'f32' | 'f64',
): { compiled: Compiled | undefined; sheet: Sheet; findings: readonly Finding[] } {
  let current = sheet;
  for (let i = 0; i < 50; i++) {
    const { value, findings } = compile(current, { library, name: 'p', ...(number === undefined ? {} : { number }) });
    const rate = findings.find((finding) => finding.id === 'rates_do_not_fit');
    if (rate?.repair === undefined) return { compiled: value, sheet: current, findings };
    const changed = structuredClone(current) as unknown as Record<string, unknown>;
    for (const edit of rate.repair.edits) {
      let at = changed;
      for (const key of edit.path.slice(0, -1)) at = at[key] as Record<string, unknown>;
      at[edit.path.at(-1) ?? ''] = edit.value;
    }
    current = changed as unknown as Sheet;
  }
  return { compiled: undefined, sheet: current, findings: [] };
}

function same(a: number, b: number): boolean {
  return Object.is(a, b) || (Number.isNaN(a) && Number.isNaN(b));
}

/** Where two recordings first differ; −1 where nowhere, 0 where their lengths do. */
export function firstDifference(a: Float64Array, b: Float64Array): number {
  if (a.length !== b.length) return 0;
  return a.findIndex((x, i) => !same(x, b[i] ?? 0));
}

/** Raw inputs of every tick as the bench made them, and every comparable slot of the exported program after it. */
export interface Trace {
  readonly program: Program;
  readonly inputs: readonly (readonly number[])[];
  readonly after: readonly Float64Array[];
}

function scalars(machine: Machine, slots: readonly { id: number; length: number }[]): Float64Array {
  const all = new Float64Array(slots.reduce((sum, slot) => sum + slot.length, 0));
  let at = 0;
  for (const { id, length } of slots) for (let i = 0; i < length; i++) all[at++] = machine.read(id, i);
  return all;
}

/** Runs the bench with everything kept; gives the raw inputs, tick by tick, and compares with the direct evaluator at `f64`. */
export async function traceSheet(
  compiled: Compiled,
  ticks: number,
  direct: boolean,
): Promise<{ inputs: number[][]; problems: string[]; final: number[]; moved: boolean }> {
  const lowered = compiled.bench({ keep: 'all', record: [], hooks: [] });
  const problems = verify(lowered.program);
  const machine = await createWasmMachine(lowered.program);
  const slots = new Map(lowered.program.slots.map((slot) => [slot.name, slot]));
  const inputSlots = lowered.program.slots.filter((slot) => slot.kind === 'input');
  const evaluator = new Direct(compiled);
  const inputs: number[][] = [];
  machine.call('actuate');
  const read = (name: string): readonly number[] | undefined => {
    const slot = slots.get(name);
    return slot === undefined ? undefined : [...machine.readAll(slot.id)];
  };
  const controllerSlots = lowered.program.slots.filter(
    (slot) => slot.kind === 'memory' && slot.block !== '' && slot.type !== 'i32',
  );
  let last: number[] = [];
  let moved = false;
  for (let tick = 0; tick < ticks && problems.length === 0; tick++) {
    const before = new Map<string, readonly number[] | undefined>();
    if (direct) for (const [name] of slots) before.set(name, read(name));
    machine.call('bench_tick');
    inputs.push(inputSlots.flatMap((slot) => [...machine.readAll(slot.id)]));
    if (tick >= ticks - 20) {
      const now = controllerSlots.flatMap((slot) => [...machine.readAll(slot.id)]);
      if (tick > ticks - 20 && now.some((x, i) => !same(x, last[i] ?? 0))) moved = true;
      last = now;
    }
    if (!direct) continue;
    const after = evaluator.tick({
      tick,
      slot: (name) => before.get(name),
      input: (path, name) => {
        const instance = compiled.resolved.instances.get(path);
        return (instance === undefined ? undefined : read(channelSlotName(instance, name))?.[0]) ?? Number.NaN;
      },
    });
    for (const [key, want] of after) {
      const isNext = key.endsWith('+');
      const name = isNext ? key.slice(0, -1) : key;
      const slot = slots.get(name);
      if (slot === undefined) continue;
      const got =
        slot.kind === 'line'
          ? [machine.read(slot.id, ((read(`${name}.head`)?.[0] ?? 0) - 1 + slot.length) % slot.length)]
          : [...machine.readAll(slot.id)];
      for (const [i, value] of want.entries()) {
        const other = got[i] ?? Number.NaN;
        if (same(value, other) || Math.abs(value - other) <= 1e-12 * Math.max(1, Math.abs(value))) continue;
        problems.push(`tick ${tick}, ${key}[${i}]: direct ${value}, program ${other}`);
      }
    }
    if (problems.length > 0) break;
  }
  return { inputs, problems, final: last, moved };
}

/** Replays raw inputs through the exported program on interpreter and WebAssembly. */
export async function replay(
  program: Program,
  inputs: readonly (readonly number[])[],
): Promise<{ trace: Trace; problems: string[] }> {
  const problems = verify(program);
  const engines: readonly [string, Machine][] = [
    ['interpreter', createInterpreter(program)],
    ['WebAssembly', await createWasmMachine(program)],
  ];
  const compared = comparableSlots(program, ['tick']);
  const fields = program.slots.filter((slot) => slot.kind === 'input');
  const after: Float64Array[] = [];
  for (const [tick, row] of inputs.entries()) {
    const results = engines.map(([, machine]) => {
      for (const [i, slot] of fields.entries()) machine.write(slot.id, row[i] ?? 0);
      machine.call('tick');
      return scalars(machine, compared);
    });
    const [first, second] = results;
    if (first === undefined || second === undefined) break;
    after.push(first);
    const at = first.findIndex((x, i) => !same(x, second[i] ?? 0));
    if (at >= 0) {
      problems.push(`tick ${tick}, scalar ${at}: interpreter ${first[at]}, WebAssembly ${second[at]}`);
      break;
    }
  }
  return { trace: { program, inputs, after }, problems };
}
