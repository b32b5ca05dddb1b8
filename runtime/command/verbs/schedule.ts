/** `schedule`: which task runs on which tick, in what order, with its work. */

import type { Answer } from '../answer.ts';
import { isAnswer, openDesign } from '../design.ts';

export function schedule(file: string): Answer {
  const design = openDesign(file);
  if (isAnswer(design)) return design;
  const { tick, period, tasks } = design.compiled.schedule;
  const lines = tasks.map(
    ({ every, phase, order, ops }) =>
      `every ${every}, phase ${phase}: ${ops} operations: ${order.length === 0 ? 'nothing' : order.join(', ')}`,
  );
  const text = [`a tick is ${tick} s; everything repeats after ${period}`, ...lines].join('\n');
  return { status: 0, data: { tick, period, tasks }, text };
}
