/** The slots of memories and delay lines, with their start values where those are known before the program runs. */

import type { Real } from '../ir/program.ts';
import type { HostNode } from '../language/host_value.ts';
import type { Expression } from '../language/syntax.ts';
import { callsFunction, namesIn } from '../language/walk.ts';
import { typeOf } from './assembly.ts';
import { memoryNamed } from './declared.ts';
import type { Definition } from './definitions.ts';
import { convert, lowerExpression } from './expression.ts';
import { hostScope } from './host_scope.ts';
import type { Instance } from './resolve.ts';
import { type Lowering, textFinding } from './slots.ts';

const LINE_LIMIT = 100_000;

/** The slot of a memory or delay line, made when first asked for. */
export function memorySlot(definition: Definition, real: Real, lowering: Lowering): number {
  const { instance, name } = definition;
  const full = `${instance.path}.${name}`;
  const known = lowering.assembly.find(full);
  if (known !== undefined) return known;
  const signal = instance.signals.get(name) ?? { kind: 'real', rows: 1, columns: 1 };
  const memory = memoryNamed(instance.flat.text, name);
  const start = hostStart(definition, lowering);
  const type = typeOf(signal.kind, real);
  if (memory?.kind !== 'line') {
    const length = keep(signal.rows * signal.columns, definition, lowering);
    return lowering.assembly.slot(full, 'memory', type, {
      length,
      block: instance.path,
      ...(start === undefined ? {} : { start }),
    });
  }
  const length = keep(Math.max(1, lineLength(instance, memory.length, lowering)), definition, lowering);
  const head = lowering.assembly.slot(`${full}.head`, 'memory', 'i32', { block: instance.path });
  const fill = new Array<number>(length).fill(start?.[0] ?? 0);
  return lowering.assembly.slot(full, 'line', type, { length, head, start: fill, block: instance.path });
}

/** The asked number of numbers to keep, or 1 after a finding was reported. */
function keep(numbers: number, { instance, name, at }: Definition, lowering: Lowering): number {
  const allowance = lowering.assembly.allowance.of(instance.path);
  if (allowance.keep(numbers)) return numbers;
  const refusal = allowance.tooMuchKept();
  if (refusal !== undefined) lowering.findings.push(textFinding(instance, refusal.id, refusal.facts, at, name));
  return 1;
}

/** The length of a delay line as it is computed on the host. */
export function lengthNode(
  instance: Instance,
  length: Expression | undefined,
  lowering: Lowering,
): HostNode | undefined {
  if (length === undefined) return undefined;
  return lowerExpression(length, hostScope(instance, lowering))?.items[0]?.host;
}

function lineLength(instance: Instance, length: Expression | undefined, lowering: Lowering): number {
  if (length === undefined) return 1;
  const node = lengthNode(instance, length, lowering);
  if (node !== undefined) lowering.assembly.lengths.push(node);
  const value = node?.value;
  if (value === undefined || !Number.isInteger(value) || value < 0 || value > LINE_LIMIT) {
    lowering.findings.push(textFinding(instance, 'not_a_size', { value: String(value) }, length.at, ''));
    return 1;
  }
  return value;
}

/** A start value known before the program runs; undefined when it reads this tick's inputs. */
export function hostStart(definition: Definition, lowering: Lowering): readonly number[] | undefined {
  const { instance, name, expression } = definition;
  if (expression === undefined) return [];
  const readsTick = namesIn(expression).some((inner) => isRunTime(instance, inner, lowering));
  if (readsTick || callsFunction(expression, 'normal')) return undefined;
  const scope = hostScope(instance, lowering);
  const raw = lowerExpression(expression, scope);
  if (raw === undefined) return undefined;
  const { kind, rows, columns } = instance.signals.get(name) ?? { kind: 'real', rows: 1, columns: 1 };
  const quantity = convert(raw, kind, raw.rows, raw.columns, scope, definition.at);
  if (quantity === undefined) return undefined;
  const numbers = quantity.items.map((item) => item.host?.value ?? 0);
  return numbers.length === 1 ? new Array<number>(rows * columns).fill(numbers[0] ?? 0) : numbers;
}

function isRunTime(instance: Instance, name: string, lowering: Lowering): boolean {
  if (name === 't' || name === 'tick' || name === 'first') return true;
  if (instance.settings.has(name)) return false;
  return instance.signals.has(name) || lowering.definitions.byKey.has(`${instance.path}.${name}`);
}
