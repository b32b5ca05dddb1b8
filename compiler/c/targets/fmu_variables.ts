/** A program's slots as variables of a co-simulation unit (FMI 3.0). */

import type { Type } from '../../ir/program.ts';
import { type Field, type Holder, isArray } from '../fields.ts';
import type { Made } from './target.ts';

export interface FmuVariable {
  /** Unique, as on the sheet. */
  readonly name: string;
  /** Unique; 0 is the time. */
  readonly reference: number;
  readonly type: 'Float32' | 'Float64' | 'Int32' | 'Boolean';
  readonly causality: 'input' | 'output' | 'parameter' | 'local';
  readonly holder: Holder;
  readonly field: Field;
}

const fmiType: Readonly<Record<Type, FmuVariable['type']>> = {
  bool: 'Boolean',
  i32: 'Int32',
  f32: 'Float32',
  f64: 'Float64',
};

/** Sensors are inputs, actuators outputs, settings parameters; memories and held values can be read. */
export function fmuVariables({ fields }: Pick<Made, 'fields'>): FmuVariable[] {
  const of = (holder: 'in' | 'out' | 'm') =>
    fields[holder].map((field) => ({
      field,
      holder,
      type: fmiType[field.slot.type],
      causality: causality(holder, field),
    }));
  return [...of('in'), ...of('out'), ...of('m')].map((one, i) => ({
    ...one,
    name: one.field.slot.name,
    reference: i + 1,
  }));
}

function causality(holder: 'in' | 'out' | 'm', { slot }: Field): FmuVariable['causality'] {
  if (holder === 'in') return 'input';
  if (holder === 'out') return 'output';
  return slot.kind === 'setting' ? 'parameter' : 'local';
}

/** Elements of an array; undefined for a scalar. */
export const lengthOf = ({ field }: FmuVariable): number | undefined =>
  isArray(field.slot) ? field.slot.length : undefined;
