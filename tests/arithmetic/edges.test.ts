/** Answers at the edges: ISO C99 Annex F, sections F.9.1 to F.9.6, and results that are exact. */

import { expect, test } from 'vitest';
import { answer, reals } from './functions.ts';

const inf = Number.POSITIVE_INFINITY;
const { NaN: none, PI: pi } = { NaN: Number.NaN, PI: Math.PI };

type Row = readonly [name: string, x: readonly number[], wanted: number];

/** From the text of Annex F; constants such as π are rounded to the type before comparing. */
const annexF: readonly Row[] = [
  ['acos', [1], 0],
  ['acos', [-1], pi],
  ['acos', [1.0000002], none],
  ['acos', [-inf], none],
  ['asin', [0], 0],
  ['asin', [-0], -0],
  ['asin', [1], pi / 2],
  ['asin', [-1], -pi / 2],
  ['asin', [-1.5], none],
  ['asin', [inf], none],
  ['atan', [0], 0],
  ['atan', [-0], -0],
  ['atan', [inf], pi / 2],
  ['atan', [-inf], -pi / 2],
  ['atan2', [0, -0], pi],
  ['atan2', [-0, -0], -pi],
  ['atan2', [0, 0], 0],
  ['atan2', [-0, 0], -0],
  ['atan2', [0, -2], pi],
  ['atan2', [-0, -2], -pi],
  ['atan2', [0, 2], 0],
  ['atan2', [-0, 2], -0],
  ['atan2', [-2, 0], -pi / 2],
  ['atan2', [-2, -0], -pi / 2],
  ['atan2', [2, 0], pi / 2],
  ['atan2', [2, -0], pi / 2],
  ['atan2', [2, -inf], pi],
  ['atan2', [-2, -inf], -pi],
  ['atan2', [2, inf], 0],
  ['atan2', [-2, inf], -0],
  ['atan2', [inf, 2], pi / 2],
  ['atan2', [-inf, -2], -pi / 2],
  ['atan2', [inf, -inf], (3 * pi) / 4],
  ['atan2', [-inf, -inf], (-3 * pi) / 4],
  ['atan2', [inf, inf], pi / 4],
  ['atan2', [-inf, inf], -pi / 4],
  ['atan2', [none, inf], none],
  ['atan2', [inf, none], none],
  ['atan2', [0, none], none],
  ['cos', [0], 1],
  ['cos', [-0], 1],
  ['cos', [inf], none],
  ['sin', [0], 0],
  ['sin', [-0], -0],
  ['sin', [-inf], none],
  ['tan', [0], 0],
  ['tan', [-0], -0],
  ['tan', [inf], none],
  ['exp', [0], 1],
  ['exp', [-0], 1],
  ['exp', [-inf], 0],
  ['exp', [inf], inf],
  ['exp', [1e30], inf],
  ['exp', [-1e30], 0],
  ['log', [0], -inf],
  ['log', [-0], -inf],
  ['log', [1], 0],
  ['log', [-1], none],
  ['log', [-inf], none],
  ['log', [inf], inf],
  ['hypot', [-3, 0], 3],
  ['hypot', [0, -3], 3],
  ['hypot', [-0, -0], 0],
  ['hypot', [-inf, none], inf],
  ['hypot', [none, inf], inf],
  ['hypot', [3, none], none],
  ['pow', [0, -3], inf],
  ['pow', [-0, -3], -inf],
  ['pow', [0, -2], inf],
  ['pow', [-0, -2.5], inf],
  ['pow', [-0, -inf], inf],
  ['pow', [-0, 3], -0],
  ['pow', [0, 3], 0],
  ['pow', [-0, 2], 0],
  ['pow', [-0, 2.5], 0],
  ['pow', [-1, inf], 1],
  ['pow', [-1, -inf], 1],
  ['pow', [1, none], 1],
  ['pow', [1, inf], 1],
  ['pow', [none, 0], 1],
  ['pow', [none, -0], 1],
  ['pow', [inf, 0], 1],
  ['pow', [-2, 0], 1],
  ['pow', [0, 0], 1],
  ['pow', [-8, 1 / 3], none],
  ['pow', [-8, 3], -512],
  ['pow', [-8, 2], 64],
  ['pow', [0.5, -inf], inf],
  ['pow', [-0.5, -inf], inf],
  ['pow', [1.5, -inf], 0],
  ['pow', [-1.5, -inf], 0],
  ['pow', [0.5, inf], 0],
  ['pow', [1.5, inf], inf],
  ['pow', [-inf, -3], -0],
  ['pow', [-inf, -2], 0],
  ['pow', [-inf, -2.5], 0],
  ['pow', [-inf, 3], -inf],
  ['pow', [-inf, 2], inf],
  ['pow', [-inf, 2.5], inf],
  ['pow', [inf, -2], 0],
  ['pow', [inf, 2], inf],
  ['pow', [none, 1], none],
  ['pow', [-1, none], none],
  ['pow', [2, 1e30], inf],
  ['pow', [-2, 1e30], inf],
  ['pow', [2, -1e30], 0],
  ['round_half_away', [-0], -0],
  ['round_half_away', [-inf], -inf],
  ['round_half_away', [0.5], 1],
  ['round_half_away', [-0.5], -1],
  ['round_half_away', [2.5], 3],
  ['round_half_away', [-0.25], -0],
];

for (const real of reals)
  test.each(annexF)(`%s_${real} of %j is %f`, (name, x, wanted) => {
    expect(answer(name, real, ...x)).toBe(real === 'f32' ? Math.fround(wanted) : wanted);
  });

for (const real of reals) {
  const names = ['sin', 'cos', 'tan', 'asin', 'acos', 'atan', 'exp', 'log', 'round_half_away'];
  test.each(names)(`%s_${real} of not-a-number is not a number`, (name) => {
    expect(answer(name, real, none)).toBeNaN();
  });

  test(`what is small is its own sine, tangent, arc sine and arc tangent in ${real}`, () => {
    const least = real === 'f32' ? 2 ** -149 : 2 ** -1074;
    for (const x of [least, 5 * least, -3 * least, least * 2 ** 23, real === 'f32' ? 2 ** -120 : 2 ** -1000])
      for (const name of ['sin', 'tan', 'asin', 'atan']) expect(answer(name, real, x), `${name} of ${x}`).toBe(x);
  });

  test(`powers of two and small whole powers are exact in ${real}`, () => {
    const [low, high] = real === 'f32' ? [-149, 127] : [-1074, 1023];
    for (let n = low; n <= high; n++) expect(answer('pow', real, 2, n)).toBe(2 ** n);
    const whole = real === 'f32' ? 2 ** 24 : 2 ** 53;
    for (let x = 2; x <= 50; x++)
      for (let n = 0, power = 1; power <= whole; n++, power *= x) {
        expect(answer('pow', real, x, n), `${x} to the ${n}`).toBe(power);
        expect(answer('pow', real, -x, n), `−${x} to the ${n}`).toBe(n % 2 === 1 ? -power : power);
      }
  });

  test(`x to the 1 is x, and Pythagorean triples are exact, in ${real}`, () => {
    for (const x of [0.1, 3.7, 1e-30, 123456, 2 ** -140].map((x) => (real === 'f32' ? Math.fround(x) : x)))
      expect(answer('pow', real, x, 1)).toBe(x);
    for (const [a, b, c] of [
      [3, 4, 5],
      [5, 12, 13],
      [8, 15, 17],
      [696, 697, 985],
    ] as const)
      for (const scale of [1, 2 ** 100, 2 ** -100, 2 ** 117, 2 ** -140])
        expect(answer('hypot', real, -a * scale, b * scale)).toBe(c * scale);
  });

  test(`overflow and underflow come where they must in ${real}`, () => {
    const [over, under] = real === 'f32' ? [88.72284, -103.97209] : [709.782712893385, -745.1332191019412];
    const [most, least] = real === 'f32' ? [88.72283, -103.97207] : [709.782712893383, -745.1332191019411];
    expect(answer('exp', real, over)).toBe(inf);
    expect(answer('exp', real, most)).toBeLessThan(inf);
    expect(answer('exp', real, under)).toBe(0);
    expect(answer('exp', real, least)).toBe(real === 'f32' ? 2 ** -149 : 2 ** -1074);
    const largest = real === 'f32' ? 2 ** 127 * (2 - 2 ** -23) : Number.MAX_VALUE;
    expect(answer('hypot', real, largest, largest)).toBe(inf);
    expect(answer('atan2', real, largest, largest)).toBe(real === 'f32' ? Math.fround(pi / 4) : pi / 4);
  });

  test(`rounding goes half away from zero and keeps what is whole in ${real}`, () => {
    const half = real === 'f32' ? 0.5 - 2 ** -25 : 0.5 - 2 ** -54;
    expect(answer('round_half_away', real, half)).toBe(0);
    expect(answer('round_half_away', real, -half)).toBe(-0);
    const odd = real === 'f32' ? 2 ** 23 + 1 : 2 ** 52 + 1;
    expect(answer('round_half_away', real, odd)).toBe(odd);
    for (let n = -20; n <= 20; n++) {
      expect(answer('round_half_away', real, n + 0.5)).toBe(n >= 0 ? n + 1 : n);
      expect(answer('round_half_away', real, n + 0.25)).toBe(n === 0 ? 0 : n < 0 ? -Math.floor(-n - 0.25 + 0.5) : n);
    }
  });
}

test('the arguments hardest to reduce keep all their digits', () => {
  // J.-M. Muller, "Elementary Functions": the f64 nearest to a multiple of π/2 is 6381956970095103 · 2^797, and its
  // cosine is about −4.6871659e−19; the f32 one is 16367173 · 2^72, with cosine about 1.61e−9 in size.
  expect(answer('cos', 'f64', 6381956970095103 * 2 ** 797)).toBeCloseTo(-4.687165924254628e-19, 33);
  expect(answer('cos', 'f64', 6381956970095103 * 2 ** 797) / -4.687165924254628e-19).toBeCloseTo(1, 14);
  expect(Math.abs(answer('cos', 'f32', 16367173 * 2 ** 72)) / 1.6147697982476885e-9).toBeCloseTo(1, 6);
});
