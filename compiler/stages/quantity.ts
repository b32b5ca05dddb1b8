/** What an expression comes to while a program is made: scalars known on the host or made by the program. */

import type { Value } from '../ir/program.ts';
import type { HostGraph, HostNode } from '../language/host_value.ts';
import type { Spot } from '../language/syntax.ts';
import type { BlockAllowance } from './allowance.ts';

/** A `literal` is a bare number: it becomes an int beside ints where it is whole. A `word` is a build setting's. */
export type Kind = 'real' | 'int' | 'bool' | 'literal' | 'word';

export type Item =
  | { readonly host: HostNode; readonly value?: undefined }
  | { readonly value: Value; readonly host?: undefined };

/** A matrix of scalars, row by row; a scalar is 1×1, a vector a column. */
export interface Quantity {
  readonly kind: Kind;
  readonly rows: number;
  readonly columns: number;
  readonly items: readonly Item[];
  /** Of kind `word`. */
  readonly word?: string;
  /** Of a build setting with several texts. */
  readonly words?: readonly string[];
}

/** One open-ended input as an expression sees it. */
export interface ListElement {
  readonly name: string;
  readonly kind: string;
  readonly quantity: Quantity;
}

/** Where run-time scalars come from; absent where everything must be known on the host. */
export interface RunTime {
  /** One operation of the program by its full name. */
  op(name: string, ...args: Value[]): Value;
  /** `real` stands for the program's real type in operation names: `add_f32`. */
  readonly real: 'f32' | 'f64';
  constant(kind: 'real' | 'int' | 'bool', value: number): Value;
  /** Reads the setting slot that holds an adjustable host number. */
  setting(kind: 'real' | 'int' | 'bool', node: HostNode): Value;
  /** Calls an elementary function. */
  elementary(name: string, ...args: Value[]): Value;
  /** A standard normal number of its own for this block and tick. */
  normal(seed: Value): Value;
  /** The row of a table of recorded numbers that holds at this tick; undefined after a finding was reported. */
  readings(file: string, columns: readonly string[], at: Spot): readonly Value[] | undefined;
  /** Reads what a delay line of this block took in so many own ticks ago. */
  delayed(line: string, ago: Value): Value | undefined;
  /** How long a delay line of this block is. */
  lineLength(line: string): HostNode | undefined;
}

/** What an expression needs from the place it stands in. */
export interface Scope {
  readonly graph: HostGraph;
  /** What may still be made here. */
  readonly allowance: BlockAllowance;
  readonly runTime: RunTime | undefined;
  /** What a name means here; undefined when it means nothing (the scope reports it). */
  name(name: string, at: Spot): Quantity | undefined;
  list(name: string): readonly ListElement[] | undefined;
  /** Whether not-a-number and infinity may come of finite numbers here, as in an example that tries them. */
  readonly nonFinite?: boolean;
  report(id: string, facts: Readonly<Record<string, string>>, at: Spot): void;
  /** Seconds a base tick and an own tick last, for `ticks(T)` and `periods(T)`. */
  readonly tick: number;
  readonly period: number;
}

export function scalar(kind: Kind, item: Item): Quantity {
  return { kind, rows: 1, columns: 1, items: [item] };
}

export function isHost(quantity: Quantity): boolean {
  return quantity.items.every((item) => item.host !== undefined);
}

/** `3`, `[3]`, `[3, 2]`: a shape in words. */
export function shapeText(rows: number, columns: number): string {
  return columns === 1 ? (rows === 1 ? 'a scalar' : `[${rows}]`) : `[${rows}, ${columns}]`;
}
