/** A sheet's bench program standing at a point: its ticks on numbers with derivatives, the plant carried exactly between them. */

import { Matrix } from 'ml-matrix';
import type { Slot } from '../ir/program.ts';
import type { Lowered } from '../stages/lower.ts';
import { DerivativeMachine } from './derivative.ts';
import { type Flow, flowOver } from './exponential.ts';

/** One number that lasts from tick to tick. */
export interface Scalar {
  /** As on the sheet: `body.th`, `tilt.x`, `hall.past[3]` (ticks ago), `gate.y` where a value is held for another rate. */
  readonly name: string;
  readonly slot: number;
  /** Element of the slot; of a delay line, how many pushes ago minus one. */
  readonly index: number;
  readonly kind: 'state' | 'memory' | 'line';
}

/** How a bench is timed. */
export interface Timing {
  /** Seconds a tick. */
  readonly tick: number;
  readonly outputs: 'at_once' | 'next_tick';
}

export class SheetPoint {
  readonly machine: DerivativeMachine;
  readonly scalars: readonly Scalar[];
  /** How many of the scalars, the first ones, are continuous states. */
  readonly states: number;
  private readonly timing: Timing;
  private readonly slots: ReadonlyMap<string, Slot>;
  private readonly stateSlot: number;

  /** `directions`: by how much more than the scalars there is to be differentiated. */
  constructor(lowered: Lowered, timing: Timing, more: number) {
    const { program } = lowered;
    this.timing = timing;
    this.slots = new Map(program.slots.map((slot) => [slot.name, slot]));
    this.stateSlot = this.slot('bench.states').id;
    this.scalars = scalarsOf(lowered, this.stateSlot);
    this.states = this.scalars.filter(({ kind }) => kind === 'state').length;
    this.machine = new DerivativeMachine(program, this.scalars.length + more, { noise: true, quantisation: true });
  }

  slot(name: string): Slot {
    const slot = this.slots.get(name);
    if (slot === undefined) throw new Error(`no slot ${name}`);
    return slot;
  }

  /** To the beginning of a run, with actuators at neutral. */
  start(): void {
    this.machine.start();
    this.machine.call('actuate');
  }

  get tick(): number {
    return this.machine.read(this.slot('bench.tick').id);
  }

  /**
   * Sensors, program and actuators of one tick, with `act` done just before the actuators; the plant's values stay, its derivatives
   * go on by `flow`, where given.
   */
  runTick(flow?: Flow, act: () => void = () => {}): void {
    const { machine, timing } = this;
    const counter = this.slot('bench.tick').id;
    machine.write(this.slot('bench.time').id, machine.read(counter) * timing.tick);
    const actuate = (): void => {
      act();
      machine.call('actuate');
    };
    machine.call('sample');
    if (timing.outputs === 'next_tick') actuate();
    machine.call('tick');
    if (timing.outputs === 'at_once') actuate();
    if (flow !== undefined) this.carry(flow);
    machine.write(counter, machine.read(counter) + 1);
  }

  /** The plant's rates where it stands now, with their derivatives. */
  rates(): { readonly values: number[]; readonly gradients: Float64Array[] } {
    const { machine } = this;
    machine.call('flow');
    const rates = this.slot('bench.rates').id;
    const all = Array.from({ length: this.states }, (_, i) => i);
    return { values: all.map((i) => machine.read(rates, i)), gradients: all.map((i) => machine.gradient(rates, i)) };
  }

  /** ∂(rates)/∂(states) where it stands. */
  stateMatrix(): Matrix {
    this.seedScalars();
    const { gradients } = this.rates();
    return new Matrix(gradients.map((gradient) => [...gradient.subarray(0, this.states)]));
  }

  /** The flow of the plant over one tick. */
  flow(): Flow {
    return this.states === 0
      ? flowOver(Matrix.zeros(0, 0), this.timing.tick)
      : flowOver(this.stateMatrix(), this.timing.tick);
  }

  /** Makes every scalar a direction of its own, in the order of `scalars`. */
  seedScalars(): void {
    for (const [direction, scalar] of this.scalars.entries())
      this.machine.seed(scalar.slot, direction, this.place(scalar));
  }

  value(scalar: Scalar): number {
    return this.machine.read(scalar.slot, this.place(scalar));
  }

  gradient(scalar: Scalar): Float64Array {
    return this.machine.gradient(scalar.slot, this.place(scalar));
  }

  put(scalar: Scalar, value: number): void {
    this.machine.write(scalar.slot, value, this.place(scalar));
  }

  /** Where in its slot a scalar stands now: a delay line goes round. */
  private place({ slot, index, kind }: Scalar): number {
    if (kind !== 'line') return index;
    const line = this.machine.program.slots[slot];
    const back = this.machine.read(line?.head ?? -1) - (index + 1);
    return back < 0 ? back + (line?.length ?? 0) : back;
  }

  /** x(t + h) − x(t) = held · rates, all of them derivatives. */
  private carry({ held }: Flow): void {
    const { machine, states, stateSlot } = this;
    const { gradients: rates } = this.rates();
    const moved = rates.map((_, i) => {
      const next = Float64Array.from(machine.gradient(stateSlot, i));
      for (let j = 0; j < states; j++) {
        const share = held.get(i, j);
        const rate = rates[j];
        if (share === 0 || rate === undefined) continue;
        for (let k = 0; k < next.length; k++) next[k] = (next[k] ?? 0) + share * (rate[k] ?? 0);
      }
      return next;
    });
    for (const [i, gradient] of moved.entries()) machine.setGradient(stateSlot, gradient, i);
  }
}

/** Everything real or whole that one tick may leave to the next; first the continuous states. */
function scalarsOf({ program, states }: Lowered, stateSlot: number): Scalar[] {
  const scalars: Scalar[] = [];
  const starts = [...states].sort(([, a], [, b]) => a - b);
  const count = starts.length === 0 ? 0 : (program.slots[stateSlot]?.length ?? 0);
  for (const [at, [name, offset]] of starts.entries()) {
    const end = starts[at + 1]?.[1] ?? count;
    for (let i = offset; i < end; i++) {
      const element = end - offset > 1 ? `${name}[${i - offset + 1}]` : name;
      scalars.push({ name: element, slot: stateSlot, index: i, kind: 'state' });
    }
  }
  const heads = new Set(program.slots.map(({ head }) => head));
  for (const slot of program.slots) {
    if (slot.id === stateSlot || slot.type === 'bool' || heads.has(slot.id) || slot.name.startsWith('bench.')) continue;
    if (slot.kind === 'setting' || slot.kind === 'scratch') continue;
    for (let i = 0; i < slot.length; i++)
      scalars.push({
        name: slot.length > 1 ? `${slot.name}[${i + 1}]` : slot.name,
        slot: slot.id,
        index: i,
        kind: slot.kind === 'line' ? 'line' : 'memory',
      });
  }
  return scalars;
}
