/** Random sheets of several rates, and the same sheets as one task with the delays of a layered schedule drawn in. */

import { type BlockOnSheet, blankSheet, type Sheet } from '../../compiler/sheet/sheet.ts';

interface Rate {
  readonly every: number;
  readonly phase: number;
}

/** Mulberry32 (Tommy Ettinger, public domain): numbers in [0, 1) from a seed. */
export function randomFrom(seed: number): () => number {
  let state = seed | 0;
  return () => {
    state = (state + 0x6d2b79f5) | 0;
    let t = Math.imul(state ^ (state >>> 15), 1 | state);
    t = (t + Math.imul(t ^ (t >>> 7), 61 | t)) ^ t;
    return ((t ^ (t >>> 14)) >>> 0) / 4294967296;
  };
}

const KINDS: readonly { is: string; inputs: readonly string[]; set: (random: () => number) => BlockOnSheet['set'] }[] =
  [
    { is: 'sine', inputs: [], set: (r) => ({ size: 1 + r(), frequency: 5 + 50 * r(), offset: r() }) },
    { is: 'ramp', inputs: [], set: (r) => ({ slope: r() - 0.5 }) },
    { is: 'gain', inputs: ['u'], set: (r) => ({ gain: 1.6 * r() - 0.8 }) },
    { is: 'low_pass', inputs: ['u'], set: (r) => ({ corner: 1 + 40 * r() }) },
    { is: 'tick_delay', inputs: ['u'], set: (r) => ({ start: r() }) },
    { is: 'integrator', inputs: ['u'], set: (r) => ({ gain: r(), low: -2, high: 2 }) },
    { is: 'saturation', inputs: ['u'], set: (r) => ({ low: -1 - r(), high: 1 + r() }) },
    { is: 'summing_point', inputs: ['a', 'b'], set: () => ({}) },
  ];

/** One layered sheet of a few rates and phases; every block says its own. Blocks only read what is there, so none is idle. */
export function layeredSheet(seed: number): Sheet {
  const random = randomFrom(seed);
  const pick = <T>(list: readonly T[]): T => list[Math.floor(random() * list.length)] as T;
  const rates: Rate[] = [{ every: 1, phase: 0 }];
  while (rates.length < 2 + Math.floor(random() * 4)) {
    const every = pick([1, 2, 3, 4, 6, 8]);
    rates.push({ every, phase: Math.floor(random() * every) });
  }
  const blocks: Record<string, BlockOnSheet> = {};
  const rateOf: Record<string, Rate> = {};
  const count = 6 + Math.floor(random() * 18);
  for (let i = 0; i < count; i++) {
    const kind = i < 2 ? KINDS[i] : pick(KINDS);
    const rate = pick(rates);
    if (kind === undefined) continue;
    const name = `b${i}`;
    rateOf[name] = rate;
    const inputs = kind.is === 'summing_point' ? { inputs: { a: '+', b: random() < 0.5 ? '+' : '-' } } : {};
    blocks[name] = { is: kind.is, every: rate.every, phase: rate.phase, set: kind.set(random) ?? {}, ...inputs };
  }
  const names = Object.keys(blocks);
  const wires: Record<string, string> = {};
  for (const [i, name] of names.entries()) {
    const kind = KINDS.find(({ is }) => is === blocks[name]?.is);
    for (const input of kind?.inputs ?? []) {
      // Within a task only from what comes before; between tasks from anywhere: a slower one always breaks the loop.
      const sources = names.filter((other, j) => j < i || (other !== name && !sameTask(rateOf[other], rateOf[name])));
      wires[`${name}.${input}`] = `${pick(sources)}.y`;
    }
  }
  return { ...blankSheet(`Rates ${seed}`), tick: '5 ms', number: 'f32', schedule: 'layered', blocks, wires };
}

function sameTask(a: Rate | undefined, b: Rate | undefined): boolean {
  return a?.every === b?.every && a?.phase === b?.phase;
}

/**
 * The same as one task: what a slower task (or another of its rate) publishes at its next release is its value through a
 * `tick_delay` of its own rate. `seen` is where each block's output can be seen from outside.
 */
export function asOneTask(layered: Sheet): { sheet: Sheet; seen: Readonly<Record<string, string>> } {
  const blocks: Record<string, BlockOnSheet> = { ...layered.blocks };
  const wires: Record<string, string> = {};
  const seen: Record<string, string> = {};
  const rate = (name: string): Rate => ({ every: blocks[name]?.every ?? 1, phase: blocks[name]?.phase ?? 0 });
  for (const name of Object.keys(layered.blocks)) {
    const { every, phase } = rate(name);
    seen[`${name}.y`] = `${name}.y`;
    if (every === 1) continue;
    blocks[`${name}_published`] = { is: 'tick_delay', every, phase };
    wires[`${name}_published.u`] = `${name}.y`;
    seen[`${name}.y`] = `${name}_published.y`;
  }
  for (const [to, from] of Object.entries(layered.wires)) {
    const [reader = ''] = to.split('.');
    const [source = ''] = from.split('.');
    const [a, b] = [rate(source), rate(reader)];
    const direct = sameTask(a, b) || a.every < b.every;
    wires[to] = direct ? from : (seen[from] ?? from);
  }
  return { sheet: { ...layered, schedule: 'single', blocks, wires }, seen };
}
