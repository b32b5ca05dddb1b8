/** What the stages of one program share, and the slots that hold what crosses from one place of it to another. */

import type { Finding } from '../findings.ts';
import type { Real } from '../ir/program.ts';
import { printExpression } from '../language/print.ts';
import type { ChannelDeclaration, Spot } from '../language/syntax.ts';
import { namesIn } from '../language/walk.ts';
import { type Assembly, typeOf } from './assembly.ts';
import { channelNamed } from './declared.ts';
import type { Definition, Definitions, Stage } from './definitions.ts';
import { lowerExpression } from './expression.ts';
import { hostScope } from './host_scope.ts';
import type { Quantity } from './quantity.ts';
import type { Instance, Resolved, Signal } from './resolve.ts';

/** A port whose value a run may change by hand, with the slots that say how. */
export interface Hook {
  /** 0: as it is, 1: add, 2: put. */
  readonly mode: number;
  readonly amount: number;
  /** Element from 0. */
  readonly element: number;
}

/** What the stages of one program share. */
export interface Lowering {
  readonly resolved: Resolved;
  readonly definitions: Definitions;
  readonly assembly: Assembly;
  readonly findings: Finding[];
  /** Real type of the exported part. */
  readonly number: Real;
  /** Whether a definition's value must stay readable in a slot. */
  keeps(definition: Definition): boolean;
  /** Hooks by port. */
  readonly hooks: ReadonlyMap<string, readonly Hook[]>;
  /** Slot of all continuous states and where each starts in it; the slot is made with the plant. */
  readonly states: { slot: number; readonly offsets: ReadonlyMap<string, number> };
  /** A file beside the sheet by its name; undefined when there is none. */
  files(name: string): string | undefined;
  /** Unit of a port in words; empty for none. */
  unit(path: string, name: string): string;
  /** Host values of lets, by `path.name`; while one is on its way, it may yet be part of a circle. */
  readonly lets: Map<string, Quantity | 'busy' | 'failed'>;
  /** Types and sizes of values that no declaration tells of, by definition. */
  readonly shapes: Map<number, Signal>;
  /** What becomes of a task that is released before it has ended. */
  readonly overrun: 'skip' | 'trip';
}

/** Type names in a function of a stage. */
export function realOf(stage: Stage, lowering: Lowering): Real {
  return stage === 'tick' ? lowering.number : 'f64';
}

/** The slot of a definition's value, made when first asked for. */
export function valueSlot(definition: Definition, signal: Signal, lowering: Lowering): number {
  const name = `${definition.instance.path}.${definition.name}${definition.kind === 'next' ? '.next' : ''}`;
  const known = lowering.assembly.find(name);
  if (known !== undefined) return known;
  const real = realOf(definition.stage, lowering);
  return lowering.assembly.slot(name, 'wire', typeOf(signal.kind, real), {
    length: signal.rows * signal.columns,
    block: definition.instance.path,
    ...(channelOf(definition)?.direction === 'out' ? { start: [channelStart(definition, lowering)] } : {}),
  });
}

/** The channel whose equation a definition is. */
export function channelOf({ instance, name, kind }: Definition): ChannelDeclaration | undefined {
  return kind === 'value' ? channelNamed(instance.flat.text, name) : undefined;
}

/** What an actuator's field holds before its first tick. */
export function channelStart(definition: Definition, lowering: Lowering): number {
  const start = channelOf(definition)?.start;
  if (start === undefined) return 0;
  return lowerExpression(start, hostScope(definition.instance, lowering))?.items[0]?.host?.value ?? 0;
}

/** The field of the C's outputs that a channel fills. */
export function outputSlot(definition: Definition, lowering: Lowering): number {
  const { instance, name } = definition;
  const field = channelSlotName(instance, name);
  return (
    lowering.assembly.find(field) ??
    lowering.assembly.slot(field, 'output', typeOf(channelOf(definition)?.type ?? 'real', lowering.number), {
      start: [channelStart(definition, lowering)],
      block: instance.path,
      note: channelNote(instance, name, lowering),
    })
  );
}

/** The C field of a channel: its block's name, with the channel's where the block has several of that direction. */
export function channelSlotName(instance: Instance, name: string): string {
  const { channels } = instance.flat.text;
  const own = channelNamed(instance.flat.text, name);
  const several = channels.filter((channel) => channel.direction === own?.direction).length > 1;
  return `${instance.path.replaceAll('.', '_')}${several ? `_${name}` : ''}`;
}

/** Time in the plant: continuous inside the solver, the tick's at its samples. */
export function timeSlot(assembly: Assembly): number {
  return assembly.find('bench.time') ?? assembly.slot('bench.time', 'scratch', 'f64', { note: 's' });
}

/** What a field stands for: the equation that reads or writes it, and the unit of what that leads to. */
export function channelNote(instance: Instance, name: string, lowering: Lowering): string {
  const { equations } = instance.flat.text;
  const isIn = channelNamed(instance.flat.text, name)?.direction === 'in';
  const equation = equations.find(
    (e) => e.kind === 'plain' && (isIn ? namesIn(e.value).includes(name) : e.name === name),
  );
  if (equation === undefined) return '';
  const text = `${equation.name} = ${printExpression(equation.value)}`;
  const unit = isIn ? lowering.unit(instance.path, equation.name) : '';
  const said = unit === '' || unit === '1' ? text : `${text}, in ${unit}`;
  return said.length <= 90 ? said : '';
}

export function inputSlot(instance: Instance, name: string, lowering: Lowering): number {
  const field = channelSlotName(instance, name);
  const channel = channelNamed(instance.flat.text, name);
  return (
    lowering.assembly.find(field) ??
    lowering.assembly.slot(field, 'input', typeOf(channel?.type ?? 'real', lowering.number), {
      block: instance.path,
      note: channelNote(instance, name, lowering),
    })
  );
}

export function modeSlot(definition: Definition, lowering: Lowering): number {
  const name = `${definition.instance.path}.mode`;
  const { modes } = definition.instance.flat.text;
  return (
    lowering.assembly.find(name) ??
    lowering.assembly.slot(name, 'memory', 'i32', {
      block: definition.instance.path,
      note: modes.map((mode, i) => `${i} ${mode}`).join(', '),
    })
  );
}

/** A finding in the text of a block, at the instance that brought it up. */
export function textFinding(
  instance: Instance,
  id: string,
  facts: Readonly<Record<string, string>>,
  at: Spot,
  name: string,
): Finding {
  return {
    id,
    level: 'error',
    at: { path: instance.path, text: instance.flat.text.name, line: at.line, column: at.column },
    facts: { ...(name === '' ? {} : { in: name }), ...facts },
  };
}
