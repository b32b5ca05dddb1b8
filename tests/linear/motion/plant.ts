/** A derived plant block, compiled by our own compiler, with its rates and slopes at any state. */

import { library } from '../../../blocks/library.ts';
import { compile } from '../../../compiler/compile.ts';
import { DerivativeMachine } from '../../../compiler/linear/derivative.ts';
import { equationsOfMotion, type MotionEquations } from '../../../compiler/linear/motion.ts';
import { plantBlock } from '../../../compiler/linear/motion_block.ts';
import type { EnergyModel } from '../../../compiler/sheet/energy_model.ts';
import { blankSheet, type Sheet } from '../../../compiler/sheet/sheet.ts';
import { sentence } from '../../../compiler/wording.ts';

export const gravity = { name: 'g', unit: 'm/s^2', value: 9.81 } as const;

export function derived(model: EnergyModel): MotionEquations {
  const { value, findings } = equationsOfMotion(model);
  if (value === undefined) throw new Error(findings.map((finding) => sentence(finding).full).join('\n'));
  return value;
}

/** A sheet with the plant alone; each input is held at a value that can be changed. */
export function sheetOf(model: EnergyModel, text: string, set: Readonly<Record<string, number>> = {}): Sheet {
  const inputs = [...new Map(model.forces.map(({ name, unit }) => [name, unit]))];
  return {
    ...blankSheet(),
    number: 'f64',
    shelf: { [model.name]: text },
    blocks: {
      it: { is: model.name, set },
      ...Object.fromEntries(
        inputs.map(([name, unit]) => [
          `held_${name}`,
          { is: 'fixed', side: 'plant' as const, set: { value: `0 ${unit}` } },
        ]),
      ),
    },
    wires: Object.fromEntries(inputs.map(([name]) => [`it.${name}`, `held_${name}.y`])),
  };
}

export class Plant {
  readonly model: EnergyModel;
  readonly text: string;
  private readonly machine: DerivativeMachine;
  private readonly slots: ReadonlyMap<string, number>;
  private readonly size: number;

  constructor(model: EnergyModel, set: Readonly<Record<string, number>> = {}) {
    this.model = model;
    this.text = plantBlock(derived(model));
    const { value, findings } = compile(sheetOf(model, this.text, set), { library });
    if (value === undefined) throw new Error(`${this.text}\n${findings.map((each) => sentence(each).full).join('\n')}`);
    const { program } = value.bench({ keep: 'all', record: [], hooks: [] });
    this.slots = new Map(program.slots.map(({ name, id }) => [name, id]));
    this.size = 2 * model.coordinates.length;
    this.machine = new DerivativeMachine(program, this.size + 1);
    this.machine.call('bench_tick');
  }

  private slot(name: string): number {
    const slot = this.slots.get(name);
    if (slot === undefined) throw new Error(`no slot ${name}`);
    return slot;
  }

  private at(state: readonly number[], inputs: Readonly<Record<string, number>>): void {
    for (const [i, x] of state.entries()) this.machine.write(this.slot('bench.states'), x, i);
    for (const [name, x] of Object.entries(inputs)) this.machine.write(this.slot(`held_${name}.value`), x);
  }

  private get rates(): number[] {
    return Array.from({ length: this.size }, (_, i) => this.machine.read(this.slot('bench.rates'), i));
  }

  /** d/dt of coordinate and speed, coordinate by coordinate, at [q1, v1, q2, v2, …]. */
  flow(state: readonly number[], inputs: Readonly<Record<string, number>> = {}, time = 0): number[] {
    this.at(state, inputs);
    this.machine.write(this.slot('bench.time'), time);
    this.machine.call('flow');
    return this.rates;
  }

  /** The Jacobians of `flow` by the state and by one input. */
  linearised(state: readonly number[], input?: string, held = 0): { A: number[][]; B: number[] } {
    this.at(state, input === undefined ? {} : { [input]: held });
    for (let i = 0; i < this.size; i++) this.machine.seed(this.slot('bench.states'), i, i);
    if (input !== undefined) this.machine.seed(this.slot(`held_${input}.value`), this.size);
    this.machine.call('flow');
    const rows = Array.from({ length: this.size }, (_, i) => [...this.machine.gradient(this.slot('bench.rates'), i)]);
    return { A: rows.map((row) => row.slice(0, this.size)), B: rows.map((row) => row[this.size] ?? 0) };
  }
}

export function expectClose(got: readonly number[], want: readonly number[], within: number): void {
  const wrong = want
    .map((x, i) => ({ i, got: got[i] ?? Number.NaN, want: x }))
    .filter(({ got, want }) => !(Math.abs(got - want) <= within * Math.max(1, Math.abs(want))));
  if (got.length !== want.length || wrong.length > 0) throw new Error(`not within ${within}: ${JSON.stringify(wrong)}`);
}
