/** What a mode comes to: only the ways out of the one it is in are judged. */

import type { Builder } from '../ir/build.ts';
import type { Value } from '../ir/program.ts';

/** One transition as a mode sees it. */
export interface WayOut {
  readonly holds: Value;
  readonly to: number;
}

/** Ways out of one mode that are written as branches, each inside the one before; more are written as choices. */
const MOST_BRANCHES = 12;

/** Stores the mode that the first way out that holds leads to. `ways` has those of each mode, from mode `first` on. */
export function judge(b: Builder, slot: number, old: Value, ways: readonly (readonly WayOut[])[], first = 0): void {
  if (ways.every((out) => out.length === 0)) return;
  const [only, ...others] = ways;
  if (only !== undefined && others.length === 0) {
    leave(b, slot, first, only);
    return;
  }
  const half = ways.length >> 1;
  b.if(
    b.op('lt_i32', old, b.const('i32', first + half)),
    () => judge(b, slot, old, ways.slice(0, half), first),
    () => judge(b, slot, old, ways.slice(half), first + half),
  );
}

function leave(b: Builder, slot: number, from: number, out: readonly WayOut[]): void {
  const [first, ...others] = out;
  if (first === undefined) return;
  if (out.length > MOST_BRANCHES) {
    const next = out.reduceRight(
      (otherwise, { holds, to }) => b.op('select_i32', holds, b.const('i32', to), otherwise),
      b.const('i32', from),
    );
    b.store(slot, next);
    return;
  }
  b.if(
    first.holds,
    () => b.store(slot, b.const('i32', first.to)),
    others.length === 0 ? undefined : () => leave(b, slot, from, others),
  );
}
