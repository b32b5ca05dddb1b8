/** Tasks of a layered schedule: everything that runs on the same ticks is one. */

import type { Definition } from './definitions.ts';

/** One task: everything that runs on the same ticks. */
export interface Task {
  /** `5_0`: every 5 ticks, phase 0. */
  readonly key: string;
  readonly every: number;
  readonly phase: number;
}

export function taskOf({ instance }: Definition): Task {
  const { every, phase } = instance;
  return { key: `${every}_${phase}`, every, phase };
}

/** Faster first; between equals, the earlier phase. */
export function compareTasks(a: Omit<Task, 'key'>, b: Omit<Task, 'key'>): number {
  return a.every - b.every || a.phase - b.phase;
}

/** The tasks that some definitions make, the fastest first. */
export function tasksOf(definitions: readonly Definition[]): Task[] {
  const tasks = new Map<string, Task>();
  for (const definition of definitions) {
    const task = taskOf(definition);
    tasks.set(task.key, task);
  }
  return [...tasks.values()].sort(compareTasks);
}

/** How the name of a slot begins that says which of two copies a task reads; names of blocks' own slots have a dot. */
const TURN = 'turn_';

export function turnOf(task: Task): string {
  return TURN + task.key;
}

/** Whether a slot is such a one: it changes at each release, so a whole period may leave it changed. */
export function isTurn(slotName: string): boolean {
  return slotName.startsWith(TURN);
}
