/** Random linear sheets: plants of several kinds, laws of several rates and phases with branches and delays, one or two loops, nested. */

import { type BlockOnSheet, blankSheet, type Sheet } from '../../../compiler/sheet/sheet.ts';
import { randomFrom } from '../../layered/random_rates.ts';

/** Seconds a tick. */
export const TICK = 0.01;

export interface RandomSheet {
  readonly sheet: Sheet;
  /** Inputs of the plant, and what the sensors see. */
  readonly excited: readonly string[];
  readonly watched: readonly string[];
  /** Inputs that a push may be added to, those of the plant and of the controller's blocks. */
  readonly pushed: readonly string[];
  /**
   * Wires at which the loop can be cut without changing it: every input and output but the continuous wires inside the plant, where a
   * cut holds between ticks what flows on.
   */
  readonly cuts: readonly string[];
}

/** The sheet of a seed. */
export function randomSheet(seed: number): RandomSheet {
  return new Drawing(seed).draw();
}

class Drawing {
  private readonly seed: number;
  private readonly random: () => number;
  private readonly blocks: Record<string, BlockOnSheet> = {};
  private readonly wires: Record<string, string> = {};
  private readonly shelf: Record<string, string> = {};
  private count = 0;

  constructor(seed: number) {
    this.seed = seed;
    this.random = randomFrom(seed);
  }

  draw(): RandomSheet {
    const loops = this.random() < 0.6 ? 2 : 1;
    const plant = this.plant();
    // Inner from 1 on; each outer loop says what the one inside it wants.
    let outer: string | undefined;
    let every = this.among(1, 2, 3, 4, 6);
    for (let i = loops; i >= 1; i--) {
      outer = this.law(plant.outputs[i - 1] ?? '', every, outer);
      if (every > 1) every = this.among(1, every, ...(every % 2 === 0 ? [every / 2] : []), ...(every === 3 ? [2] : []));
    }
    const drive = this.add('drive', 'channel_out', {}, this.random() < 0.3 ? this.rate(this.among(1, every)) : {});
    this.wires[`${drive}.u`] = outer ?? '';
    for (const input of plant.inputs) this.wires[input] = `${drive}.truth`;
    const sheet: Sheet = {
      ...blankSheet(),
      title: `sheet ${this.seed}`,
      tick: '10 ms',
      number: 'f64',
      plant_steps: 4,
      schedule: this.among('single', 'layered'),
      outputs: this.among('at_once', 'next_tick'),
      shelf: this.shelf,
      blocks: this.blocks,
      wires: this.wires,
    };
    const isPlant = (port: string): boolean => /^(rig|lag|swing|mass)/.test(port);
    const isInside = ([input, output]: readonly [string, string]): boolean =>
      isPlant(output) &&
      (isPlant(input) || Object.entries(this.wires).some(([to, from]) => from === output && isPlant(to)));
    const cut = Object.entries(this.wires).filter((wire) => !isInside(wire));
    const pushed = Object.keys(this.wires).filter((input) => /^(error|b|sum)\d/.test(input));
    return {
      sheet,
      excited: plant.excited,
      watched: plant.outputs,
      pushed: [...plant.excited, ...pushed],
      cuts: [...new Set(cut.flat())],
    };
  }

  private among<T>(...list: readonly T[]): T {
    return list[Math.floor(this.random() * list.length)] as T;
  }

  private spread(low: number, high: number): number {
    return Number((low + (high - low) * this.random()).toFixed(3));
  }

  private rate(every: number): { every: number; phase: number } {
    return { every, phase: Math.floor(this.random() * every) };
  }

  private add(stem: string, is: string, set: BlockOnSheet['set'], more: Partial<BlockOnSheet> = {}): string {
    const name = `${stem}${++this.count}`;
    this.blocks[name] = { is, ...(set === undefined || Object.keys(set).length === 0 ? {} : { set }), ...more };
    return name;
  }

  /** A block of one input and output after a wire. */
  private after(
    from: string,
    is: string,
    set: BlockOnSheet['set'],
    more: Partial<BlockOnSheet> = {},
    input = 'u',
  ): string {
    const name = this.add('b', is, set, more);
    this.wires[`${name}.${input}`] = from;
    return name;
  }

  private plant() {
    const inputs: string[] = [];
    const entry = this.among('rig', 'rig', 'rig', 'lag', 'swing', 'mass');
    let outputs: string[];
    if (entry === 'rig') {
      this.shelf.rig = this.rig();
      const rig = this.add('rig', 'rig', {});
      inputs.push(`${rig}.u1`);
      outputs = [`${rig}.y1`, `${rig}.y2`];
    } else if (entry === 'lag') {
      const set = { gain: this.spread(0.5, 3), time_constant: `${this.spread(0.05, 1)} s`, start: this.spread(-1, 1) };
      const lag = this.add('lag', 'first_order_lag', set);
      const next = this.add('lag', 'first_order_lag', { time_constant: `${this.spread(0.05, 0.5)} s`, start: 0.3 });
      this.wires[`${next}.u`] = `${lag}.y`;
      inputs.push(`${lag}.u`);
      outputs = [`${lag}.y`, `${next}.y`];
    } else if (entry === 'swing') {
      const set = { frequency: this.spread(1, 20), damping: this.spread(0, 0.8), start: this.spread(-1, 1) };
      const swing = this.add('swing', 'second_order_lag', set);
      inputs.push(`${swing}.u`);
      outputs = [`${swing}.rate`, `${swing}.y`];
    } else {
      const mass = this.add('mass', 'mass', { inertia: this.spread(0.2, 2), start: this.spread(-1, 1) });
      inputs.push(`${mass}.force`);
      outputs = [`${mass}.speed`, `${mass}.position`];
    }
    const excited = [...inputs];
    if (this.random() < 0.2) {
      const pipe = this.add('pipe', 'dead_time', { delay: `${10 * this.among(1, 2)} ms` }, { side: 'plant' });
      for (const input of inputs) this.wires[input] = `${pipe}.y`;
      return { inputs: [`${pipe}.u`], outputs, excited };
    }
    return { inputs, outputs, excited };
  }

  private rig(): string {
    const order = this.among(1, 2, 3, 4);
    const rates = Array.from({ length: order }, (_, i) => {
      const own = `${this.spread(-6, i === 0 ? 3 : -0.5)} * x${i + 1}`;
      const others = Array.from({ length: order }, (_, j) => (j === i ? '' : ` + ${this.spread(-2, 2)} * x${j + 1}`));
      return `d/dt x${i + 1} = ${own}${others.join('')} + ${this.spread(0.5, 3)} * u1`;
    });
    const states = Array.from({ length: order }, (_, i) => `state x${i + 1} = ${this.spread(-1, 1)}`);
    return [
      'block rig',
      '"A linear plant."',
      'side plant',
      'in u1 = 0',
      'out y1',
      'out y2',
      ...states,
      ...rates,
      `y1 = x1${this.random() < 0.3 ? ` + ${this.spread(0.05, 0.4)} * u1` : ''}`,
      `y2 = x${order}`,
    ].join('\n');
  }

  /** Sensor, comparison and a chain of blocks; gives the chain's end. */
  private law(truth: string, every: number, wanted: string | undefined): string {
    const rate = this.rate(every);
    const delay = { delay: `${10 * this.among(0, 0, 1, 2)} ms` };
    const sensor = this.add('see', 'channel_in', delay, this.random() < 0.4 ? this.rate(this.among(1, every)) : {});
    this.wires[`${sensor}.truth`] = truth;
    const signs = { got: '-', ...(wanted === undefined ? {} : { want: '+' }) };
    const error = this.add('error', 'summing_point', {}, { inputs: signs, ...rate });
    this.wires[`${error}.got`] = `${sensor}.y`;
    if (wanted !== undefined) this.wires[`${error}.want`] = wanted;
    let from = `${error}.y`;
    for (let k = this.among(1, 1, 2, 3); k > 0; k--)
      from = this.random() < 0.3 ? this.branches(from, rate) : this.step(from, this.near(rate));
    return from;
  }

  /** Mostly the same rate, now and then another. */
  private near(rate: { every: number; phase: number }): { every: number; phase: number } {
    return this.random() < 0.75
      ? rate
      : this.rate(this.among(1, rate.every, rate.every === 1 ? 2 : rate.every === 3 ? 2 : 3));
  }

  /** Two ways from one wire, added again. */
  private branches(from: string, rate: { every: number; phase: number }): string {
    const [one, other] = [this.step(from, this.near(rate)), this.step(from, this.near(rate))];
    const sum = this.add('sum', 'summing_point', {}, { inputs: { one: '+', other: '+' }, ...this.near(rate) });
    this.wires[`${sum}.one`] = one;
    this.wires[`${sum}.other`] = other;
    return `${sum}.y`;
  }

  private step(from: string, rate: { every: number; phase: number }): string {
    const kinds: readonly (readonly [is: string, set: BlockOnSheet['set'], more?: Partial<BlockOnSheet>])[] = [
      ['gain', { gain: this.spread(0.2, 3) }],
      ['integrator', { gain: this.spread(0.1, 2) }],
      [
        'lead_lag',
        { gain: this.spread(0.3, 2), zero: `${this.spread(1, 8)} rad/s`, pole: `${this.spread(5, 30)} rad/s` },
      ],
      ['tick_delay', {}],
      ['dead_time', { delay: `${10 * rate.every * this.among(1, 2, 3)} ms` }, { side: 'controller' }],
      [
        'transfer_function',
        { num: [this.spread(0.5, 3)], den: [this.spread(0.05, 0.5), 1], method: this.among('tustin', 'zoh') },
      ],
      ['difference_equation', { num: [this.spread(0.1, 1), this.spread(-0.5, 0.5)], den: [1, this.spread(-0.8, 0.3)] }],
      ['low_pass', { corner: `${this.spread(2, 30)} rad/s` }],
    ];
    const [is, set, more = {}] = this.among(...kinds);
    return `${this.after(from, is, set, { ...more, ...rate })}.y`;
  }
}
