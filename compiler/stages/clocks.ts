/** Slots that count ticks, and those that remember whether the blocks of a rate have run. */

import type { Slot } from '../ir/program.ts';
import type { Assembly } from './assembly.ts';
import type { Stage } from './definitions.ts';
import type { Zone } from './order.ts';

/** Counts 0 … every − 1 in the exported program; in a program of one task in steps of the slowest rate that this is a multiple of. */
export function beatSlot(assembly: Assembly, every: number): number {
  const name = `beat_${every}`;
  const note = `counts the ticks between those every ${every}`;
  return assembly.find(name) ?? assembly.slot(name, 'memory', 'i32', { note });
}

/** Ticks since the start: the exported program keeps a count of its own. */
export function tickSlot(assembly: Assembly, stage: Stage): number {
  const name = stage === 'tick' ? 'tick' : 'bench.tick';
  return assembly.find(name) ?? assembly.slot(name, 'memory', 'i32', { note: 'ticks since the start' });
}

/** Whether a slot is one of those of `startedSlot`. */
export function saysStarted({ name, block }: Slot): boolean {
  return block === '' && name.startsWith('started_');
}

/** Whether the blocks of a zone have run since they were switched on. */
export function startedSlot(assembly: Assembly, stage: Stage, zone: Zone): number {
  const where = stage === 'tick' ? 'started' : `bench.started_${stage}`;
  const when = zone.when.map((port) => `_${port.replaceAll('.', '_')}`).join('');
  const name = `${where}_${zone.every}_${zone.phase}${when}`;
  const note = 'whether the blocks of this rate have run since they were switched on';
  return assembly.find(name) ?? assembly.slot(name, 'memory', 'bool', { note });
}
