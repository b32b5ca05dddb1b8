/** Third stage: every equation becomes a definition with the definitions it reads, so that order is per output. */

import type { Finding } from '../findings.ts';
import type { Expression, Spot } from '../language/syntax.ts';
import { namesIn } from '../language/walk.ts';
import { channelNamed } from './declared.ts';
import type { Source } from './expand.ts';
import type { Instance } from './resolve.ts';

/**
 * Where a definition is evaluated. `tick` is the exported program; `sample` is the bench's part of a tick before it
 * (sensors, plant blocks with memory), `actuate` the part after it, `flow` the plant's continuous equations.
 */
export type Stage = 'tick' | 'sample' | 'actuate' | 'flow';

/**
 * What a definition makes. `value`: an equation's value or an unwired input's default; `memory`: a memory as this tick
 * sees it; `next`: its new value; `commit`: putting that in place; `mode`: the mode after judging transitions; `rate`: a state's derivative; `say`: a
 * saying's condition, or the time left.
 */
export type Kind = 'value' | 'memory' | 'next' | 'commit' | 'mode' | 'rate' | 'say';

export interface Definition {
  /** Index in the list of all definitions. */
  readonly id: number;
  readonly instance: Instance;
  readonly kind: Kind;
  readonly name: string;
  readonly stage: Stage;
  /** Undefined for a mode. */
  readonly expression: Expression | undefined;
  readonly at: Spot;
  /** Definitions of the same stage (or of `flow`, from `sample`) that must come before it. */
  readonly reads: number[];
  /** Definitions of other stages that it reads: their values must stay in slots. */
  readonly readsAcross: number[];
}

export interface Definitions {
  readonly all: readonly Definition[];
  /** By `path.name`; a next value is `path.name+`, its commit `path.name!`, a rate `path.name'`. */
  readonly byKey: ReadonlyMap<string, Definition>;
}

const suffixes: Partial<Record<Kind, string>> = { next: '+', commit: '!', rate: "'" };

export function keyOf(path: string, kind: Kind, name: string): string {
  return `${path}.${name}${suffixes[kind] ?? ''}`;
}

/** Names the sheet decides at once: no definition stands behind them. */
const BUILT_IN = new Set(['dt', 't', 'tick', 'first', 'pi', 'true', 'false', 'unlimited']);

export function define(instances: ReadonlyMap<string, Instance>, findings: Finding[]): Definitions {
  const all: Definition[] = [];
  const byKey = new Map<string, Definition>();
  for (const instance of instances.values()) {
    const stages = stagesOf(instance);
    const add = (kind: Kind, name: string, expression: Expression | undefined, at: Spot, stage: Stage): void => {
      const definition: Definition = {
        id: all.length,
        instance,
        kind,
        name,
        stage,
        expression,
        at,
        reads: [],
        readsAcross: [],
      };
      const key = keyOf(instance.path, kind, name);
      if (byKey.has(key)) return;
      all.push(definition);
      byKey.set(key, definition);
    };
    const { text, wires } = instance.flat;
    for (const open of text.openOutputs)
      for (const [i, word] of openWords(instance, open.name).entries())
        add('value', word, elementOf(open.name, i + 1, open.at), open.at, stages(open.name));
    for (const memory of text.memories)
      if (memory.kind !== 'state') add('memory', memory.name, memory.start, memory.at, stages(memory.name));
    if (text.modes.length > 0) add('mode', 'mode', undefined, { line: 1, column: 1 }, stages('mode'));
    for (const input of text.inputs)
      if (!wires.has(input.name) && input.fallback !== undefined)
        add('value', input.name, input.fallback, input.at, stages(input.name));
    for (const equation of text.equations) {
      if (equation.kind === 'plain') add('value', equation.name, equation.value, equation.at, stages(equation.name));
      else if (equation.kind === 'next') {
        add('next', equation.name, equation.value, equation.at, stages(equation.name));
        add('commit', equation.name, undefined, equation.at, stages(equation.name));
      } else if (equation.kind === 'rate') add('rate', equation.name, equation.value, equation.at, 'flow');
    }
    for (const [i, saying] of text.sayings.entries()) {
      const stage = stageReading(namesIn(saying.condition), stages, instance);
      add('say', `say${i + 1}`, saying.condition, saying.at, stage);
      if (saying.left !== undefined) add('say', `left${i + 1}`, saying.left, saying.at, stage);
    }
  }
  for (const definition of all) link(definition, byKey, findings);
  return { all, byKey };
}

/** The outputs that a build setting names. */
function openWords(instance: Instance, name: string): readonly string[] {
  const build = instance.builds.get(name);
  return build?.type === 'texts' ? build.words : [];
}

function elementOf(name: string, element: number, at: Spot): Expression {
  const index: Expression = { kind: 'number', value: element, unit: undefined, text: String(element), at };
  return { kind: 'index', base: { kind: 'name', name, at }, indices: [index], at };
}

/** Where each name of a block is evaluated. */
function stagesOf(instance: Instance): (name: string) => Stage {
  const { text } = instance.flat;
  if (instance.side === 'controller') return () => 'tick';
  if (instance.side === 'plant') {
    const hasMemory = text.memories.some((memory) => memory.kind !== 'state') || text.modes.length > 0;
    if (!hasMemory) return () => 'flow';
    if (!text.memories.some((memory) => memory.kind === 'state')) return () => 'sample';
    const memories = new Set([...text.memories.filter((m) => m.kind !== 'state').map((m) => m.name), 'mode']);
    return (name) => (memories.has(name) ? 'sample' : 'flow');
  }
  const sampled = closure(instance, 'up');
  const actuated = closure(instance, 'down');
  return (name) => (sampled.has(name) ? 'sample' : actuated.has(name) ? 'actuate' : 'tick');
}

/** Names whose equations a `channel in` stands on, or that stand on a `channel out` (which is the program's itself). */
function closure(instance: Instance, direction: 'up' | 'down'): Set<string> {
  const { text } = instance.flat;
  const channels = text.channels.filter((channel) => (channel.direction === 'in') === (direction === 'up'));
  const found = new Set(channels.map((channel) => channel.name));
  const arrows = text.equations
    .filter((equation) => equation.kind === 'plain' || equation.kind === 'next')
    .map((equation) => ({ to: equation.name, from: namesIn(equation.value) }));
  for (const memory of text.memories) arrows.push({ to: memory.name, from: namesIn(memory.start) });
  for (const input of text.inputs)
    if (input.fallback !== undefined) arrows.push({ to: input.name, from: namesIn(input.fallback) });
  for (let grew = true; grew; ) {
    const before = found.size;
    for (const { to, from } of arrows)
      if (direction === 'up') {
        if (found.has(to)) for (const name of from) if (!BUILT_IN.has(name)) found.add(name);
      } else if (from.some((name) => found.has(name))) found.add(to);
    grew = found.size > before;
  }
  if (direction === 'down') for (const channel of channels) found.delete(channel.name);
  return found;
}

/** A saying stands where what it reads stands; on the bench, after the plant's equations of that tick. */
function stageReading(names: readonly string[], stages: (name: string) => Stage, instance: Instance): Stage {
  if (instance.side === 'controller') return 'tick';
  const read = names.filter((name) => instance.signals.has(name) && !instance.settings.has(name)).map(stages);
  if (instance.side === 'plant') return 'sample';
  return read.find((stage) => stage === 'tick' || stage === 'actuate') ?? 'sample';
}

/** What a name of a block stands for: a definition (its own or another block's), or a source's output. */
export function reading(
  instance: Instance,
  name: string,
  byKey: ReadonlyMap<string, Definition>,
):
  | { readonly definition: Definition; readonly element: number | undefined; readonly source: Source | undefined }
  | undefined {
  const source = instance.flat.wires.get(name);
  const key = source === undefined ? `${instance.path}.${name}` : `${source.path}.${source.port}`;
  const definition = byKey.get(key);
  return definition === undefined ? undefined : { definition, element: source?.element, source };
}

/** Names of a block's equations with lists taken apart into their inputs. */
export function readNames(definition: Definition): readonly string[] {
  const { text, inputs } = definition.instance.flat;
  const expressions: Expression[] = [];
  if (definition.expression !== undefined && definition.kind !== 'memory') expressions.push(definition.expression);
  if (definition.kind === 'memory') expressions.push(definition.expression as Expression);
  if (definition.kind === 'mode') for (const transition of text.transitions) expressions.push(transition.when);
  if (text.openInputs.length + text.openOutputs.length + text.modes.length === 0) return namesIn(definition.expression);
  const names = new Set<string>();
  for (const name of expressions.flatMap(namesIn)) {
    const list = text.openInputs.find((open) => open.name === name);
    if (list === undefined) names.add(name);
    else
      for (const input of inputs) if (list.kinds.length === 0 || list.kinds.includes(input.kind)) names.add(input.name);
  }
  for (const mode of text.modes) names.delete(mode);
  if (text.openOutputs.some((open) => open.name === definition.name)) names.delete(definition.name);
  return [...names];
}

function link(definition: Definition, byKey: ReadonlyMap<string, Definition>, findings: Finding[]): void {
  const { instance, stage } = definition;
  if (definition.kind === 'commit')
    for (const kind of ['next', 'memory'] as const) {
      const before = byKey.get(keyOf(instance.path, kind, definition.name));
      if (before !== undefined) definition.reads.push(before.id);
    }
  for (const name of readNames(definition)) {
    const found = reading(instance, name, byKey);
    if (found === undefined) continue;
    const other = found.definition;
    if (other === definition && definition.kind === 'value' && definition.name !== name) continue;
    if (reads(stage, other, instance)) {
      if (other.stage === stage || (stage === 'sample' && other.stage === 'flow')) definition.reads.push(other.id);
      else definition.readsAcross.push(other.id);
      if (other.kind === 'memory' && other.stage === stage) {
        byKey.get(keyOf(other.instance.path, 'commit', other.name))?.reads.push(definition.id);
      }
    } else if (found.source !== undefined)
      findings.push({
        id: 'wire_across_shore',
        level: 'error',
        at: { path: `${instance.path}.${name}` },
        facts: { source: `${other.instance.path}.${other.name}`, from: sideWords(other.stage), to: sideWords(stage) },
        repair: {
          label: 'Remove the wire',
          edits: [{ path: [...instance.flat.keys.slice(0, -2), 'wires', `${instance.flat.keys.at(-1)}.${name}`] }],
        },
      });
  }
  for (const source of instance.flat.when) {
    const other = byKey.get(`${source.path}.${source.port}`);
    if (other === undefined) continue;
    if (other.stage === stage) definition.reads.push(other.id);
    else definition.readsAcross.push(other.id);
  }
}

/** Whether an equation of one stage may read a definition: only channels lead across the shore. */
function reads(stage: Stage, other: Definition, reader: Instance): boolean {
  if (stage === other.stage) return true;
  const channel = channelNamed(other.instance.flat.text, other.name);
  if (stage === 'tick') return channel?.direction === 'in' && other.instance === reader;
  if (other.stage === 'tick') return stage === 'actuate' && channel?.direction === 'out' && other.instance === reader;
  return true;
}

function sideWords(stage: Stage): string {
  return stage === 'tick' ? 'the controller' : 'the plant';
}
