/** Findings about a whole design: what nobody reads, what no gate guards, what the C would name alike. */

import type { Finding } from '../findings.ts';
import type { Sheet } from '../sheet/sheet.ts';
import type { Definitions } from '../stages/definitions.ts';
import { outputNames } from '../stages/expand.ts';
import { TASK_LIMIT } from '../stages/layers.ts';
import type { Instance, Resolved } from '../stages/resolve.ts';
import { channelSlotName } from '../stages/slots.ts';
import { tasksOf } from '../stages/tasks.ts';

export function reviewDesign(sheet: Sheet, resolved: Resolved, definitions: Definitions, findings: Finding[]): void {
  reviewTasks(sheet, definitions, findings);
  reviewReaders(sheet, resolved, findings);
  reviewGuards(resolved, definitions, findings);
  reviewNames(resolved, findings);
}

/** What `release` answers has a bit for each task. */
function reviewTasks(sheet: Sheet, definitions: Definitions, findings: Finding[]): void {
  if (sheet.schedule === 'single') return;
  const tasks = tasksOf(definitions.all.filter(({ stage }) => stage === 'tick'));
  if (tasks.length <= TASK_LIMIT) return;
  findings.push({
    id: 'too_many_tasks',
    level: 'error',
    at: { path: '' },
    facts: { tasks: String(tasks.length), limit: String(TASK_LIMIT) },
    repair: { label: 'Run it single', edits: [{ path: ['schedule'], value: 'single' }] },
  });
}

/** A block none of whose outputs is read does nothing; a single unread output is usual. */
function reviewReaders(sheet: Sheet, resolved: Resolved, findings: Finding[]): void {
  const read = new Set<string>();
  for (const instance of resolved.instances.values()) {
    for (const source of instance.flat.wires.values()) read.add(source.path);
    for (const source of instance.flat.when) read.add(source.path);
  }
  const watched = JSON.stringify([sheet.runs, sheet.desk]);
  for (const instance of resolved.instances.values()) {
    if (read.has(instance.path) || instance.flat.text.channels.length > 0 || outputNames(instance.flat).length === 0)
      continue;
    if (watched.includes(`${instance.path}.`)) continue;
    findings.push({
      id: 'output_unread',
      level: 'advice',
      at: { path: instance.path },
      facts: { block: instance.path },
    });
  }
}

/** Every actuator should stand behind a guard, and every guard should know how to stop. */
function reviewGuards(resolved: Resolved, definitions: Definitions, findings: Finding[]): void {
  for (const instance of resolved.instances.values()) {
    const { text, wires } = instance.flat;
    if (text.guards && text.inputs.some((input) => input.name === 'stop') && !wires.has('stop'))
      findings.push({
        id: 'gate_without_stop',
        level: 'warning',
        at: { path: instance.path },
        facts: { block: instance.path },
      });
    for (const channel of text.channels) {
      if (channel.direction !== 'out' || text.harmless) continue;
      const definition = definitions.byKey.get(`${instance.path}.${channel.name}`);
      if (definition !== undefined && !isGuarded(definition.id, definitions))
        findings.push({
          id: 'actuator_unguarded',
          level: 'warning',
          at: { path: instance.path },
          facts: { block: instance.path },
        });
    }
  }
}

/** Whether a guard stands on every way to a value, or at least on one: guards combine with others before an actuator. */
function isGuarded(start: number, definitions: Definitions): boolean {
  const seen = new Set<number>([start]);
  const open = [start];
  for (let id = open.pop(); id !== undefined; id = open.pop()) {
    const definition = definitions.all[id];
    if (definition === undefined) continue;
    if (definition.instance.flat.text.guards) return true;
    for (const next of [...definition.reads, ...definition.readsAcross])
      if (!seen.has(next)) {
        seen.add(next);
        open.push(next);
      }
  }
  return false;
}

/** Two names that the C would write alike. */
function reviewNames(resolved: Resolved, findings: Finding[]): void {
  const taken = new Map<string, Instance>();
  for (const instance of resolved.instances.values())
    for (const channel of instance.flat.text.channels) {
      const name = channelSlotName(instance, channel.name);
      const other = taken.get(name);
      if (other !== undefined && other !== instance)
        findings.push({
          id: 'field_clash',
          level: 'error',
          at: { path: instance.path },
          facts: { name, other: other.path },
          notes: [{ at: { path: other.path }, text: 'has the same field' }],
        });
      else taken.set(name, instance);
    }
}
