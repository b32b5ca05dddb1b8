/** What a hand does to a value while a run goes: adds to it, or puts something in its place. */

import type { Builder } from '../ir/build.ts';
import type { Real, Value } from '../ir/program.ts';
import { type ScalarKind, typeOf } from './assembly.ts';
import type { Hook } from './slots.ts';

/** The values of a port after its hooks; the same values where it has none. */
export function applyHooks(
  b: Builder,
  real: Real,
  all: ReadonlyMap<string, readonly Hook[]>,
  port: string,
  kind: ScalarKind,
  values: readonly Value[],
): readonly Value[] {
  const hooks = all.get(port);
  if (hooks === undefined) return values;
  const type = typeOf(kind, real);
  return values.map((value, i) => {
    let result = value;
    for (const hook of hooks) {
      if (hook.element !== i && values.length > 1) continue;
      const mode = b.load(hook.mode, 'i32');
      const amount = amountOf(b, real, hook, kind);
      if (kind !== 'bool') {
        const added = b.op(`add_${type}`, result, amount);
        result = b.op(`select_${type}`, b.op('eq_i32', mode, b.const('i32', 1)), added, result);
      }
      result = b.op(`select_${type}`, b.op('eq_i32', mode, b.const('i32', 2)), amount, result);
    }
    return result;
  });
}

/** A hook's amount is kept at `f64`. */
function amountOf(b: Builder, real: Real, hook: Hook, kind: ScalarKind): Value {
  const amount = b.load(hook.amount, 'f64');
  if (kind === 'int') return b.op('i32_from_f64', amount);
  if (kind === 'bool') return b.op('not_bool', b.op('eq_f64', amount, b.const('f64', 0)));
  return real === 'f32' ? b.op('f32_from_f64', amount) : amount;
}
