/** What the expression of one definition can read and make, where it stands in a program. */

import type { Builder } from '../ir/build.ts';
import type { Real, Value } from '../ir/program.ts';
import type { HostGraph, HostNode } from '../language/host_value.ts';
import type { Spot } from '../language/syntax.ts';
import type { BlockAllowance } from './allowance.ts';
import { hashText, type ScalarKind, typeOf } from './assembly.ts';
import { memoryNamed } from './declared.ts';
import { type Definition, keyOf } from './definitions.ts';
import { lengthNode } from './memory.ts';
import { type ListElement, type Quantity, type RunTime, type Scope, scalar } from './quantity.ts';
import { emitReadings } from './readings.ts';
import { type Lowering, textFinding } from './slots.ts';

/** The function an expression stands in. */
export interface Standing {
  readonly b: Builder;
  readonly real: Real;
  readonly lowering: Lowering;
  /** What a name means to a definition. */
  name(definition: Definition, name: string, at: Spot): Quantity | undefined;
  memorySlot(definition: Definition): number;
  tickSlot(): number;
  /** A number for each place that makes noise. */
  nextNoise(): number;
}

/** There are as many of these as definitions, so they hold nothing but where they stand. */
export class RunScope implements Scope, RunTime {
  private readonly definition: Definition;
  private readonly standing: Standing;

  constructor(definition: Definition, standing: Standing) {
    this.definition = definition;
    this.standing = standing;
  }

  get graph(): HostGraph {
    return this.standing.lowering.assembly.graph;
  }

  get allowance(): BlockAllowance {
    return this.standing.lowering.assembly.allowance.of(this.definition.instance.path);
  }

  get runTime(): RunTime {
    return this;
  }

  get tick(): number {
    return this.standing.lowering.resolved.tick;
  }

  get period(): number {
    return this.definition.instance.period;
  }

  get real(): Real {
    return this.standing.real;
  }

  name(name: string, at: Spot): Quantity | undefined {
    return this.standing.name(this.definition, name, at);
  }

  list(name: string): readonly ListElement[] | undefined {
    const { text, inputs } = this.definition.instance.flat;
    const open = text.openInputs.find((item) => item.name === name);
    if (open === undefined) return undefined;
    return inputs
      .filter((input) => open.kinds.length === 0 || open.kinds.includes(input.kind))
      .map((input) => ({
        name: input.name,
        kind: input.kind,
        quantity: this.name(input.name, open.at) ?? scalar('real', { host: this.graph.constant(0) }),
      }));
  }

  report(id: string, facts: Readonly<Record<string, string>>, at: Spot): void {
    const { instance, name } = this.definition;
    this.standing.lowering.findings.push(textFinding(instance, id, facts, at, name));
  }

  op(name: string, ...args: Value[]): Value {
    return this.standing.b.op(name, ...args);
  }

  constant(kind: ScalarKind, value: number): Value {
    return this.standing.b.const(typeOf(kind, this.real), value);
  }

  setting(kind: ScalarKind, node: HostNode): Value {
    const { b, lowering, real } = this.standing;
    const type = typeOf(kind, real);
    return b.load(lowering.assembly.settingSlot(node, type, this.definition.instance.path), type);
  }

  elementary(name: string, ...args: Value[]): Value {
    const { b, lowering, real } = this.standing;
    return b.call(lowering.assembly.elementary(name, real), real, ...args);
  }

  normal(seed: Value): Value {
    const { b, lowering, real } = this.standing;
    const { assembly } = lowering;
    const run = assembly.find('run.seed') ?? assembly.slot('run.seed', 'setting', 'i32', { note: "the run's seed" });
    const { instance, name } = this.definition;
    const place = b.const('i32', hashText(`${instance.path}.${name}#${this.standing.nextNoise()}`));
    const tick = b.load(this.standing.tickSlot(), 'i32');
    return b.call(assembly.elementary('normal', real), real, b.load(run, 'i32'), seed, place, tick);
  }

  readings(file: string, columns: readonly string[], at: Spot): readonly Value[] | undefined {
    const { b, lowering, real } = this.standing;
    const tick = b.load(this.standing.tickSlot(), 'i32');
    return emitReadings(b, real, tick, this.definition.instance, file, columns, lowering, at);
  }

  lineLength(line: string): HostNode | undefined {
    const { instance } = this.definition;
    const memory = memoryNamed(instance.flat.text, line);
    return memory?.kind === 'line' ? lengthNode(instance, memory.length, this.standing.lowering) : undefined;
  }

  delayed(line: string, ago: Value): Value | undefined {
    const { b, lowering } = this.standing;
    const { instance } = this.definition;
    const own = lowering.definitions.byKey.get(keyOf(instance.path, 'memory', line));
    if (memoryNamed(instance.flat.text, line)?.kind !== 'line' || own === undefined) return undefined;
    const slot = this.standing.memorySlot(own);
    return b.lineLoad(slot, lowering.assembly.slotAt(slot).type, ago);
  }
}
