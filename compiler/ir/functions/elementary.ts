/** The elementary functions by name, and what a program must take in to call some of them. */

import type { Func, Instruction, Real, Slot, Type } from '../program.ts';
import { acos, asin, atan, atan2 } from './arc.ts';
import { cos, highProduct, reduce, reduceHuge, sin, sineIn, tan, twoOverPiWord } from './circle.ts';
import { exp, expOfSum, log, pow } from './exponential.ts';
import { hypot } from './hypot.ts';
import { normal, randomWords } from './noise.ts';
import { roundHalfAway } from './rounding.ts';
import { Workspace } from './workspace.ts';

type Maker = (workspace: Workspace) => Func;

/** Those to be called from outside: the name without its type, and its parameters where they are not one real. */
const offered: Readonly<Record<string, readonly (Type | 'real')[]>> = {
  sin: ['real'],
  cos: ['real'],
  tan: ['real'],
  asin: ['real'],
  acos: ['real'],
  atan: ['real'],
  atan2: ['real', 'real'],
  exp: ['real'],
  log: ['real'],
  pow: ['real', 'real'],
  hypot: ['real', 'real'],
  round_half_away: ['real'],
  normal: ['i32', 'i32', 'i32', 'i32'],
};

const makers = new Map<string, Maker>([
  ['high_product', highProduct],
  ['random_words', randomWords],
]);
for (const real of ['f32', 'f64'] as const)
  for (const [name, make] of Object.entries({
    sin,
    cos,
    tan,
    asin,
    acos,
    atan,
    atan2,
    exp,
    log,
    pow,
    hypot,
    normal,
    round_half_away: roundHalfAway,
    exp_of_sum: expOfSum,
    reduce,
    reduce_huge: reduceHuge,
    sine_in: sineIn,
    two_over_pi: twoOverPiWord,
  } satisfies Record<string, (real: Real, workspace: Workspace) => Func>))
    makers.set(`${name}_${real}`, (workspace) => make(real, workspace));

/** What may be called, without the type: `sin`, `pow`, `normal` … */
export const elementaryNames: readonly string[] = Object.keys(offered);

/** How to call one: `name` as in `elementaryNames`; undefined if there is none. All answer one real and have no effects. */
export function elementary(
  name: string,
  real: Real,
): { readonly func: string; readonly parameters: readonly Type[]; readonly result: Real } | undefined {
  const parameters = Object.hasOwn(offered, name) ? offered[name] : undefined;
  if (parameters === undefined) return undefined;
  return {
    func: `${name}_${real}`,
    parameters: parameters.map((type) => (type === 'real' ? real : type)),
    result: real,
  };
}

/**
 * The functions of those full names (`sin_f32`) and all they call, each after what it calls, and the scratch slots they
 * need, with ids from `firstSlot` on. A program takes in both once. Slot names have no dot, so no block can own them;
 * other names are left alone, so a caller may pass all that it calls.
 */
export function elementaryFunctions(
  names: Iterable<string>,
  firstSlot: number,
): { readonly functions: readonly Func[]; readonly slots: readonly Slot[] } {
  const workspace = new Workspace(firstSlot);
  const done = new Map<string, Func>();
  const take = (name: string): void => {
    const make = makers.get(name);
    if (make === undefined || done.has(name)) return;
    const func = make(workspace);
    for (const callee of calledBy(func.body)) take(callee);
    done.set(name, func);
  };
  for (const name of names) take(name);
  return { functions: [...done.values()], slots: workspace.slots };
}

function* calledBy(body: readonly Instruction[]): Generator<string> {
  for (const instruction of body) {
    if (instruction.do === 'call') yield instruction.func;
    if (instruction.do === 'if') {
      yield* calledBy(instruction.then);
      yield* calledBy(instruction.else);
    }
    if (instruction.do === 'repeat') yield* calledBy(instruction.body);
  }
}
