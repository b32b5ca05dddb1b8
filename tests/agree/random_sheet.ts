/** Random sheets: blocks of the shelf and random texts, in groups, at several rates, switched, looped and gated. */

import { library } from '../../blocks/library.ts';
import type { BlockText, TypeExpression } from '../../compiler/language/syntax.ts';
import {
  type BlockOnSheet,
  blankSheet,
  type Group,
  type SettingValue,
  type Sheet,
} from '../../compiler/sheet/sheet.ts';
import { parsedBlock } from '../../compiler/stages/shelf.ts';
import { Random, randomText } from './random_text.ts';

type Kind = 'real' | 'int' | 'bool' | 'pair';

/** Blocks drawn at random, with settings that keep what they do moderate. */
const drawn: Readonly<Record<string, (r: Random) => Record<string, SettingValue>>> = {
  gain: (r) => ({ gain: Number(r.decimal(1.5)) }),
  summing_point: () => ({}),
  multiply: () => ({}),
  average: () => ({}),
  largest: () => ({}),
  smallest: () => ({}),
  saturation: () => ({ low: -3, high: 2.5 }),
  tick_delay: (r) => ({ start: Number(r.decimal(1)) }),
  integrator: (r) => ({ gain: Number(r.decimal(2)), low: -4, high: 4 }),
  lead_lag: (r) => ({ gain: Number(r.decimal(1)), zero: 3 + r.below(20), pole: 5 + r.below(60) }),
  transfer_function: (r) => ({ num: [1, 4], den: [1, 6, 30], method: r.pick(['tustin', 'zoh', 'backward']) }),
  difference_equation: () => ({ num: [0.2, 0.1, 0.05], den: [1, -1.1, 0.4] }),
  low_pass: (r) => ({ corner: 1 + r.below(40) }),
  high_pass: (r) => ({ corner: 1 + r.below(40) }),
  second_order_low_pass: (r) => ({ corner: 2 + r.below(40) }),
  notch: () => ({}),
  complementary: () => ({}),
  slew_limit: () => ({}),
  dead_band: () => ({}),
  above: (r) => ({ limit: Number(r.decimal(1)) }),
  below: (r) => ({ limit: Number(r.decimal(1)) }),
  within: () => ({}),
  all_of: () => ({}),
  any_of: () => ({}),
  invert: () => ({}),
  hold_for: (r) => ({ dwell: `${5 + r.below(40)} ms` }),
  held_in_window: () => ({ longest: '20 ms', window: '60 ms' }),
  latch: () => ({}),
  edge: () => ({}),
  counter: () => ({}),
  choose: () => ({}),
  sample_hold: () => ({}),
  bias_while_still: () => ({}),
  arming_gate: (r) => ({ dwell: `${5 * (1 + r.below(3))} ms`, ramp_time: `${5 * (2 + r.below(5))} ms` }),
};

/** Plain blocks of a test, so that every kind of signal can be made and stripped of its unit. */
const own: Readonly<Record<string, string>> = {
  plain: 'block plain\n  "The number alone."\nin u: U\nout y\ny = min(max(bare(u), -100), 100)\n',
  clock:
    'block clock\n  "True on some ticks."\nout often: bool\nout rarely: bool\nout asks: bool\noften = tick < 40 or abs(tick - 40) > 2\nrarely = tick > 45 and tick < 48\nasks = wrap(tick / 4, 1) != 0\n',
  whole_of: 'block whole_of\n  "A whole number."\nin u: U\nout y: int\ny = int(3 * bare(u))\n',
  number_of: 'block number_of\n  "A number."\nin u: int\nout y\ny = 0.01 * real(wrap(u, 10))\n',
  shaker:
    'block shaker\n  "Moves by itself and is pushed."\nside plant\nin push = 0\nout p\nout q\nset rate = 7\nstate x = 0.3\nstate w = 0\nd/dt x = w / 1 s\nd/dt w = (rate * sin(9 * bare(t)) - 20 * x - w + 0.2 * push) / 1 s\np = x\nq = 2 * w + cos(5 * bare(t))\n',
};

interface Made {
  readonly source: string;
  readonly kind: Kind;
}

/** One scope being filled: the sheet or a group. */
class Scope {
  readonly blocks: Record<string, BlockOnSheet> = {};
  readonly wires: Record<string, string> = {};
  readonly signals: Made[] = [];
  private count = 0;

  name(prefix: string): string {
    this.count++;
    return `${prefix}${this.count}`;
  }
}

export function randomSheet(seed: number): Sheet {
  return new Drawing(seed).draw();
}

class Drawing {
  private readonly r: Random;
  private readonly shelf: Record<string, string | Group> = { ...own };
  private readonly seed: number;

  constructor(seed: number) {
    this.seed = seed;
    this.r = new Random(seed);
  }

  draw(): Sheet {
    const { r } = this;
    for (let i = 0; i < 2; i++) this.shelf[`text${i}`] = randomText(r, `text${i}`);
    const scope = new Scope();
    scope.blocks.shaker = { is: 'shaker' };
    scope.blocks.clock = { is: 'clock' };
    for (const [port, i] of [
      ['p', 1],
      ['q', 2],
    ] as const) {
      const noise = r.chance(0.3) ? 0.01 : 0;
      scope.blocks[`sensor${i}`] = { is: 'channel_in', set: { noise, seed: i, scale: 1.5 } };
      scope.wires[`sensor${i}.truth`] = `shaker.${port}`;
      scope.signals.push({ source: `sensor${i}.y`, kind: 'real' });
    }
    const loops = this.openLoops(scope);
    const size = 5 + r.below(9);
    for (let i = 0; i < size; i++) this.add(scope, i);
    if (r.chance(0.7)) this.addGroup(scope, 'inner', r.chance(0.6));
    for (let i = 0; i < 3; i++) this.add(scope, size + i);
    for (const loop of loops) scope.wires[`${loop}.u`] = this.take(scope, 'real');
    this.addOutputs(scope);
    return {
      ...blankSheet(`random ${this.seed}`),
      tick: '5 ms',
      number: r.chance(0.5) ? 'f32' : 'f64',
      outputs: r.chance(0.5) ? 'at_once' : 'next_tick',
      blocks: scope.blocks,
      wires: scope.wires,
      shelf: this.shelf,
    };
  }

  /** Delays whose inputs are wired at the end, to what comes later: feedback. */
  private openLoops(scope: Scope): string[] {
    const names: string[] = [];
    for (let i = 0; i < 1 + this.r.below(2); i++) {
      const [limit, delay] = [scope.name('limit'), scope.name('back')];
      scope.blocks[limit] = { is: 'saturation', set: { low: -2, high: 2 } };
      scope.blocks[delay] = { is: 'tick_delay', set: { start: Number(this.r.decimal(1)) } };
      scope.wires[`${delay}.u`] = `${limit}.y`;
      scope.signals.push({ source: `${delay}.y`, kind: 'real' });
      names.push(limit);
    }
    return names;
  }

  private addOutputs(scope: Scope): void {
    const limit = scope.name('limit');
    scope.blocks[limit] = { is: 'saturation', set: { low: -5, high: 5 } };
    scope.wires[`${limit}.u`] = this.take(scope, 'real');
    scope.blocks.drive = { is: 'channel_out', set: { scale: 2, low: -8, high: 8 } };
    scope.wires['drive.u'] = `${limit}.y`;
    scope.wires['shaker.push'] = 'drive.truth';
  }

  private rate(chance: number): { every?: number; phase?: number } {
    if (!this.r.chance(chance)) return {};
    const every = this.r.pick([1, 2, 3, 4, 6]);
    const phase = every > 1 && this.r.chance(0.4) ? this.r.below(every) : 0;
    return phase === 0 ? { every } : { every, phase };
  }

  /** A signal of a kind; one is made where there is none. */
  private take(scope: Scope, kind: Kind): string {
    const { r } = this;
    const fitting = scope.signals.filter((signal) => signal.kind === kind);
    const recent = fitting.slice(-6);
    if (recent.length > 0) return r.pick(r.chance(0.7) ? recent : fitting).source;
    if (kind === 'real') return this.insert(scope, 'fixed', { value: Number(r.decimal(2)) }, {});
    if (kind === 'bool') return this.insert(scope, 'above', { limit: 0 }, { u: this.take(scope, 'real') });
    return this.insert(scope, 'whole_of', {}, { u: this.take(scope, 'real') });
  }

  private insert(scope: Scope, is: string, set: Record<string, SettingValue>, wires: Record<string, string>): string {
    const name = scope.name(`${is}_`);
    scope.blocks[name] = { is, set };
    for (const [input, from] of Object.entries(wires)) scope.wires[`${name}.${input}`] = from;
    return `${name}.y`;
  }

  private add(scope: Scope, i: number): void {
    const { r } = this;
    const is = r.chance(0.3) ? `text${i % 2}` : r.pick(Object.keys(drawn));
    const text = this.textOf(is);
    const name = scope.name(`${is}_`);
    const inputs: Record<string, string> = {};
    for (const open of text.openInputs) {
      const kinds = open.kinds.length === 0 ? [''] : open.kinds;
      const count = 1 + r.below(3);
      for (let j = 0; j < count; j++) inputs[`${open.name.slice(0, 2)}${j}`] = r.pick(kinds);
    }
    scope.blocks[name] = {
      is,
      set: drawn[is]?.(r) ?? {},
      ...this.rate(0.5),
      ...(Object.keys(inputs).length > 0 ? { inputs } : {}),
    };
    for (const input of text.inputs)
      if (input.fallback === undefined || r.chance(0.5)) this.wire(scope, name, input.name, input.type);
    for (const [input, kind] of Object.entries(inputs)) {
      const open = text.openInputs.find((list) => list.kinds.length === 0 || list.kinds.includes(kind));
      if (open !== undefined) this.wire(scope, name, input, open.type);
    }
    if (is === 'arming_gate' && scope.blocks.clock !== undefined && r.chance(0.8)) this.askGate(scope, name, inputs);
    for (const output of text.outputs) this.offer(scope, name, output.name, output.type);
  }

  /** Wires a gate so that it gets somewhere: random signals alone hold it shut. */
  private askGate(scope: Scope, gate: string, inputs: Readonly<Record<string, string>>): void {
    scope.wires[`${gate}.ask`] = 'clock.asks';
    if (this.r.chance(0.5)) scope.wires[`${gate}.stop`] = 'clock.rarely';
    else delete scope.wires[`${gate}.stop`];
    for (const [input, kind] of Object.entries(inputs))
      scope.wires[`${gate}.${input}`] = kind === 'reasons' ? 'clock.often' : 'clock.rarely';
  }

  private wire(scope: Scope, block: string, input: string, type: TypeExpression): void {
    if (type.base !== 'real') scope.wires[`${block}.${input}`] = this.take(scope, type.base);
    else if (type.unit === undefined || /^[A-Z]\d*$/.test(type.unit.text))
      scope.wires[`${block}.${input}`] = this.take(scope, 'real');
    else {
      const adapter = `to_${type.unit.text.replaceAll(/[^A-Za-z0-9]/g, '_')}`;
      this.shelf[adapter] ??=
        `block ${adapter}\n  "Gives a unit."\nin u\nout y: ${type.unit.text}\ny = u * 1 ${type.unit.text}\n`;
      scope.wires[`${block}.${input}`] = this.insert(scope, adapter, {}, { u: this.take(scope, 'real') });
    }
  }

  private offer(scope: Scope, block: string, output: string, type: TypeExpression): void {
    const source = `${block}.${output}`;
    if (type.shape.length > 0) {
      const element = `${source}[${1 + this.r.below(2)}]`;
      if (block.startsWith('text')) scope.signals.push({ source: element, kind: 'real' });
      return;
    }
    if (type.base === 'bool') scope.signals.push({ source, kind: 'bool' });
    else if (type.base === 'int') {
      scope.signals.push({ source, kind: 'int' });
      if (this.r.chance(0.5))
        scope.signals.push({ source: this.insert(scope, 'number_of', {}, { u: source }), kind: 'real' });
    } else scope.signals.push({ source: this.insert(scope, 'plain', {}, { u: source }), kind: 'real' });
  }

  private addGroup(outer: Scope, is: string, switched: boolean): void {
    const { r } = this;
    const scope = new Scope();
    scope.signals.push(
      { source: 'one', kind: 'real' },
      { source: 'two', kind: 'real' },
      { source: 'on', kind: 'bool' },
    );
    const size = 2 + r.below(4);
    for (let i = 0; i < size; i++) this.add(scope, i);
    scope.wires.out = this.take(scope, 'real');
    scope.wires.yes = this.take(scope, 'bool');
    const inner = (source: string): boolean => source.includes('.');
    const ports: Group['ports'] = {
      one: { in: '' },
      two: { in: '' },
      on: { in: 'bool' },
      ...(inner(scope.wires.out) ? { out: { out: '' } } : {}),
      ...(inner(scope.wires.yes) ? { yes: { out: 'bool' } } : {}),
    };
    for (const port of ['out', 'yes']) if (!(port in ports)) delete scope.wires[port];
    this.shelf[is] = { ports, blocks: scope.blocks, wires: scope.wires, layout: {} };
    for (let copy = 0; copy < 1 + r.below(2); copy++) {
      const name = outer.name(`${is}_`);
      const when = switched ? { when: this.take(outer, 'bool') } : {};
      outer.blocks[name] = { is, ...this.rate(0.4), ...when };
      outer.wires[`${name}.one`] = this.take(outer, 'real');
      outer.wires[`${name}.two`] = this.take(outer, 'real');
      outer.wires[`${name}.on`] = this.take(outer, 'bool');
      if ('out' in ports) outer.signals.push({ source: `${name}.out`, kind: 'real' });
      if ('yes' in ports) outer.signals.push({ source: `${name}.yes`, kind: 'bool' });
    }
  }

  private textOf(is: string): BlockText {
    const text = this.shelf[is] ?? library.get(is)?.text;
    const block = typeof text === 'string' ? parsedBlock(text, is).value : undefined;
    if (block === undefined) throw new Error(`no block ${is}`);
    return block;
  }
}
