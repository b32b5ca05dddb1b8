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
  takeFromInputs(open, rates);
  for (const block of open) {
    if (rates.has(block.path)) continue;
    if (agreeable.has(block.path)) rates.set(block.path, block.around ?? { every: 1, phase: 0 });
  }
  takeFromInputs(open, rates, agreeable);
  for (const block of open)
    if (!rates.has(block.path)) {
      rates.set(block.path, block.around ?? { every: 1, phase: 0 });
      takeFromInputs(open, rates, agreeable);
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

/** A block that says no rate takes that of the fastest of its inputs; goes on until nothing changes. */
function takeFromInputs(
  open: readonly FlatBlock[],
  rates: Map<string, Rate>,
  constants: ReadonlySet<string> = new Set(),
): void {
  const taken = new Set(open.filter((block) => !rates.has(block.path)).map((block) => block.path));
  for (let changed = true; changed; ) {
    changed = false;
    for (const block of open) {
      if (!taken.has(block.path)) continue;
      let fastest: Rate | undefined;
      for (const source of block.wires.values()) {
        const rate = rates.get(source.path);
        if (rate === undefined || constants.has(source.path)) continue;
        if (fastest === undefined || rate.every < fastest.every) fastest = rate;
      }
      const known = rates.get(block.path);
      if (fastest === undefined || (known !== undefined && known.every <= fastest.every)) continue;
      rates.set(block.path, fastest);
      changed = true;
    }
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
