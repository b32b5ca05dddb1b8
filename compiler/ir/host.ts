/** Elementary functions for numbers worked out on the host: the program's own f64 functions, so host and program agree. */

import { elementaryFunctions } from './functions/elementary.ts';
import { createInterpreter } from './interpreter.ts';
import type { Machine } from './machine.ts';

const unary = ['sin', 'cos', 'tan', 'asin', 'acos', 'atan', 'exp', 'log', 'round_half_away'] as const;
const binary = ['atan2', 'pow', 'hypot'] as const;

let machine: Machine | undefined;

/** Made at the first call, for good: the functions keep nothing from one call to the next. */
function answer(name: string, ...x: number[]): number {
  if (machine === undefined) {
    const { functions, slots } = elementaryFunctions(
      [...unary, ...binary].map((each) => `${each}_f64`),
      0,
    );
    machine = createInterpreter({ name: 'host', real: 'f64', functions, slots });
  }
  const y = machine.call(`${name}_f64`, ...x);
  if (y === undefined) throw new Error(`${name} answers nothing`);
  return y;
}

/**
 * In place of JavaScript's `Math`, whose results differ between engines and versions: within 1 unit in the last place,
 * the same bits everywhere, a few microseconds a call. `Math.sqrt`, `abs`, `floor`, `ceil` and `trunc` are exact as
 * they are; `round` goes half away from zero, which `Math.round` does not.
 */
export const host = {
  sin: (x: number): number => answer('sin', x),
  cos: (x: number): number => answer('cos', x),
  tan: (x: number): number => answer('tan', x),
  asin: (x: number): number => answer('asin', x),
  acos: (x: number): number => answer('acos', x),
  atan: (x: number): number => answer('atan', x),
  atan2: (y: number, x: number): number => answer('atan2', y, x),
  exp: (x: number): number => answer('exp', x),
  log: (x: number): number => answer('log', x),
  pow: (x: number, y: number): number => answer('pow', x, y),
  hypot: (x: number, y: number): number => answer('hypot', x, y),
  round: (x: number): number => answer('round_half_away', x),
} as const;
