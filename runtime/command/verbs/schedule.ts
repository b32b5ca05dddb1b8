/** `schedule`: which task runs on which tick, in what order, with its work. */

import type { Answer } from '../answer.ts';
import { isAnswer, openDesign } from '../design.ts';

export function schedule(file: string): Answer {
  const design = openDesign(file);
  if (isAnswer(design)) return design;
  const { tick, period, tasks, levelling } = design.compiled.schedule;
  const lines = tasks.map(
    ({ every, phase, order, ops }) =>
      `every ${every}, phase ${phase}: ${ops} operations: ${order.length === 0 ? 'nothing' : order.join(', ')}`,
  );
  if (levelling !== undefined) {
    const moved = tasks.flatMap(({ every, phase }, i) =>
      levelling.phases[i] === phase ? [] : [`every ${every}, phase ${phase} to phase ${levelling.phases[i]}`],
    );
    lines.push(
      `the busiest tick has ${levelling.now} operations; with other phases it would have ${levelling.proposed} (a proposal: it also moves what these blocks sample in time): ${moved.join('; ')}`,
    );
  }
  const text = [`a tick is ${tick} s; everything repeats after ${period}`, ...lines].join('\n');
  return { status: 0, data: { tick, period, tasks, ...(levelling === undefined ? {} : { levelling }) }, text };
}
