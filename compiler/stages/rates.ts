/** Which ticks each block runs on: said by the block, by the groups around it, or taken from what it reads. */

import type { Finding } from '../findings.ts';
import { callsFunction, namesIn } from '../language/walk.ts';
import type { Flat, FlatBlock } from './expand.ts';
import type { Side } from './sides.ts';

const TIME = new Set(['t', 'tick', 'first']);

export interface Rate {
  readonly every: number;
  readonly phase: number;
}

/** Most ticks from one run of a block to its next: beats are counted in 32 bits. */
const SLOWEST = 2_147_483_647;
const EVERY_TICK: Rate = { every: 1, phase: 0 };

export function resolveRates(flat: Flat, sides: ReadonlyMap<string, Side>, findings: Finding[]): Map<string, Rate> {
  const rates = new Map<string, Rate>();
  const open: FlatBlock[] = [];
  for (const [path, block] of flat.blocks) {
    const said = saidRate(block, findings);
    if (said !== undefined) rates.set(path, said);
    else if (sides.get(path) === 'plant') rates.set(path, { every: 1, phase: 0 });
    else open.push(block);
  }
  const agreeable = new Set<string>();
  for (const block of open) if (agreesWithAnything(block)) agreeable.add(block.path);
  const readers = readersOf(open);
  const known = [...rates].sort(([, a], [, b]) => a.every - b.every);
  for (const [path] of known) handOn(path, readers, rates);
  for (const block of open)
    if (!rates.has(block.path) && !agreeable.has(block.path)) {
      rates.set(block.path, block.around ?? EVERY_TICK);
      handOn(block.path, readers, rates);
    }
  for (const block of open) if (agreeable.has(block.path)) rates.set(block.path, block.around ?? EVERY_TICK);
  for (const [path, { every }] of rates)
    if (every > SLOWEST) {
      findings.push({
        id: 'rate_too_slow',
        level: 'error',
        at: { path },
        facts: { every: String(every), limit: String(SLOWEST) },
      });
      rates.set(path, EVERY_TICK);
    }
  for (const block of open) {
    checkFit(block, rates, agreeable, findings);
    checkGroupRate(block, rates, findings);
  }
  return rates;
}

function saidRate(block: FlatBlock, findings: Finding[]): Rate | undefined {
  if (block.every === undefined && block.phase === undefined) {
    const reads = block.wires.size > 0;
    return block.around !== undefined && !reads ? block.around : undefined;
  }
  const every = block.every ?? 1;
  const phase = block.phase ?? 0;
  if (phase >= every) {
    findings.push({
      id: 'phase_outside',
      level: 'error',
      at: { path: block.path },
      facts: { phase: String(phase), every: String(every) },
      repair: { label: 'Put it on phase 0', edits: [{ path: [...block.keys, 'phase'] }] },
    });
    return { every, phase: 0 };
  }
  const around = block.around ?? { every: 1, phase: 0 };
  return { every: around.every * every, phase: around.phase + around.every * phase };
}

/** A block without inputs, memory or time is a constant: it fits every rate. */
function agreesWithAnything(block: FlatBlock): boolean {
  const { text } = block;
  return (
    block.wires.size === 0 &&
    text.memories.length === 0 &&
    text.channels.length === 0 &&
    text.modes.length === 0 &&
    text.inputs.length === 0 &&
    !text.equations.some(({ value }) => namesIn(value).some((name) => TIME.has(name)) || callsFunction(value, 'normal'))
  );
}

/** The blocks that read each block. */
function readersOf(blocks: readonly FlatBlock[]): Map<string, FlatBlock[]> {
  const readers = new Map<string, FlatBlock[]>();
  for (const block of blocks)
    for (const path of new Set([...block.wires.values()].map((source) => source.path))) {
      const list = readers.get(path);
      if (list === undefined) readers.set(path, [block]);
      else list.push(block);
    }
  return readers;
}

/**
 * Gives a block's rate to everything that reads it and has none yet, and so on. The fastest hands on first, so that a
 * block takes the rate of the fastest of its inputs; of several equally fast, that of its first wire.
 */
function handOn(path: string, readers: ReadonlyMap<string, readonly FlatBlock[]>, rates: Map<string, Rate>): void {
  const every = rates.get(path)?.every;
  const waiting = [path];
  for (let from = waiting.pop(); from !== undefined; from = waiting.pop())
    for (const reader of readers.get(from) ?? []) {
      if (rates.has(reader.path)) continue;
      const sources = [...reader.wires.values()].map((source) => rates.get(source.path));
      rates.set(reader.path, sources.find((rate) => rate?.every === every) ?? EVERY_TICK);
      waiting.push(reader.path);
    }
}

/** In a group with a divider, a block that says no rate and reads something faster runs faster than its group. */
function checkGroupRate(block: FlatBlock, rates: ReadonlyMap<string, Rate>, findings: Finding[]): void {
  const own = rates.get(block.path);
  if (own === undefined || block.around === undefined || own.every >= block.around.every) return;
  findings.push({
    id: 'faster_than_group',
    level: 'advice',
    at: { path: block.path },
    facts: { own: String(own.every), group: String(block.around.every) },
    repair: { label: 'Run it with its group', edits: [{ path: [...block.keys, 'every'], value: 1 }] },
  });
}

function checkFit(
  block: FlatBlock,
  rates: ReadonlyMap<string, Rate>,
  constants: ReadonlySet<string>,
  findings: Finding[],
): void {
  const own = rates.get(block.path);
  if (own === undefined) return;
  for (const source of block.wires.values()) {
    const rate = rates.get(source.path);
    if (rate === undefined || constants.has(source.path) || rate.every % own.every === 0) continue;
    findings.push({
      id: 'rates_do_not_fit',
      level: 'error',
      at: { path: block.path },
      facts: { own: String(own.every), other: String(rate.every), source: source.path },
      notes: [{ at: { path: source.path }, text: `runs every ${rate.every} ticks` }],
      repair: { label: 'Let it run on every tick', edits: [{ path: [...block.keys, 'every'], value: 1 }] },
    });
    return;
  }
}
