/** Host arithmetic gives the program's own bits, close to what the engine's library says. */

import { expect, test } from 'vitest';
import { host } from '../../compiler/ir/host.ts';
import { answer } from './functions.ts';

const arguments_ = Array.from({ length: 400 }, (_, k) => (k - 200) * 0.3719 + 0.011);

test.each(['sin', 'cos', 'tan', 'atan', 'exp'] as const)('%s', (name) => {
  for (const x of arguments_) {
    expect(host[name](x)).toBe(answer(name, 'f64', x));
    expect(Math.abs(host[name](x) / Math[name](x) - 1)).toBeLessThan(5e-16);
  }
});

test.each(['asin', 'acos'] as const)('%s', (name) => {
  for (const x of arguments_) expect(host[name](x / 100)).toBe(answer(name, 'f64', x / 100));
  expect(host[name](2)).toBeNaN();
});

test.each(['atan2', 'pow', 'hypot'] as const)('%s', (name) => {
  for (const [k, x] of arguments_.entries()) {
    const y = arguments_[(k * 7) % 400] ?? 0;
    expect(host[name](Math.abs(x), y)).toBe(answer(name, 'f64', Math.abs(x), y));
    expect(Math.abs(host[name](Math.abs(x), y) / Math[name](Math.abs(x), y) - 1)).toBeLessThan(1e-15);
  }
});

test('log and round', () => {
  expect(host.log(10)).toBe(Math.LN10);
  expect(host.round(-2.5)).toBe(-3);
  expect(host.round(2.4999)).toBe(2);
});
