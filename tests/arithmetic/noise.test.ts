/** The random numbers: the hash against published vectors, the distribution against the normal law, independence. */

import { erf } from 'mathjs';
import { expect, test } from 'vitest';
import { pathHash } from '../../compiler/ir/functions/noise.ts';
import { answer, interpreter, reals, slotNamed } from './functions.ts';

test('the hash is Threefry-2x32 with 20 rounds', () => {
  // Known answers of the Random123 library (Salmon et al. 2011), counter, key and result: threefry2x32 20.
  const vectors = [
    [0, 0, 0, 0, 0x6b200159, 0x99ba4efe],
    [0xffffffff, 0xffffffff, 0xffffffff, 0xffffffff, 0x1cb996fc, 0xbb002be7],
    [0x243f6a88, 0x85a308d3, 0x13198a2e, 0x03707344, 0xc4923a9c, 0x483df7a0],
  ] as const;
  for (const [path, tick, run, block, first, second] of vectors) {
    interpreter.call('random_words', run, block, path, tick);
    const got = [slotNamed('random_first'), slotNamed('random_second')].map((slot) => interpreter.read(slot) >>> 0);
    expect(got).toEqual([first, second]);
  }
});

test('a path is hashed by FNV-1a', () => {
  // Test vectors of the FNV reference code (Fowler, Noll, Vo), 32 bits.
  expect(pathHash('') >>> 0).toBe(0x811c9dc5);
  expect(pathHash('a') >>> 0).toBe(0xe40c292c);
  expect(pathHash('foobar') >>> 0).toBe(0xbf9cf968);
});

const count = 20_000;
const series = new Map<string, Float64Array>();

/** Numbers of one stream at ticks 0 … count − 1. */
function stream(real: 'f32' | 'f64', run: number, block: number, path: string): Float64Array {
  const key = `${real} ${run} ${block} ${path}`;
  const place = pathHash(path);
  const found =
    series.get(key) ?? Float64Array.from({ length: count }, (_, k) => answer('normal', real, run, block, place, k));
  series.set(key, found);
  return found;
}

const mean = (x: Float64Array) => x.reduce((sum, each) => sum + each, 0) / x.length;

/** The correlation of two series, the second `lag` later. */
function correlation(x: Float64Array, y: Float64Array, lag = 0): number {
  let [xy, xx, yy] = [0, 0, 0];
  for (let k = 0; k + lag < x.length; k++) {
    const [a, b] = [x[k] ?? 0, y[k + lag] ?? 0];
    xy += a * b;
    xx += a * a;
    yy += b * b;
  }
  return xy / Math.sqrt(xx * yy);
}

for (const real of reals)
  test.each([1, 2, -7])(`normal_${real} with seed %i is standard normal`, (seed) => {
    const x = stream(real, seed, 0, 'imu.tilt');
    const m = mean(x);
    expect(Math.abs(m)).toBeLessThan(4 / Math.sqrt(count));
    const variance = x.reduce((sum, each) => sum + (each - m) ** 2, 0) / (count - 1);
    expect(Math.abs(variance - 1)).toBeLessThan(4 * Math.sqrt(2 / count));
    const fourth = x.reduce((sum, each) => sum + each ** 4, 0) / count;
    expect(Math.abs(fourth - 3)).toBeLessThan(4 * Math.sqrt(96 / count));
    // Kolmogorov and Smirnov: beyond 1.95/√n once in a thousand.
    let distance = 0;
    for (const [k, each] of [...x].sort((a, b) => a - b).entries()) {
      const below = (1 + erf(each / Math.SQRT2)) / 2;
      distance = Math.max(distance, Math.abs(below - k / count), Math.abs(below - (k + 1) / count));
    }
    expect(distance).toBeLessThan(1.95 / Math.sqrt(count));
  });

test('streams have nothing to do with each other', () => {
  const limit = 4.5 / Math.sqrt(count);
  const x = stream('f64', 1, 0, 'imu.tilt');
  for (const other of [
    stream('f64', 2, 0, 'imu.tilt'),
    stream('f64', 1, 1, 'imu.tilt'),
    stream('f64', 1, 0, 'imu.rate'),
    stream('f64', 0, 1, 'imu.tilt'),
  ])
    for (const lag of [0, 1, 2]) expect(Math.abs(correlation(x, other, lag))).toBeLessThan(limit);
  for (const lag of [1, 2, 3, 10]) expect(Math.abs(correlation(x, x, lag))).toBeLessThan(limit);
  const squares = x.map((each) => each * each - 1);
  expect(Math.abs(correlation(squares, squares, 1))).toBeLessThan(limit);
});

test('the f32 number is the f64 number to single precision, but for the rarest', () => {
  const [single, double] = [stream('f32', 1, 0, 'imu.tilt'), stream('f64', 1, 0, 'imu.tilt')];
  const apart = single.filter((each, k) => Math.abs(each - (double[k] ?? 0)) > 1e-5);
  expect(apart.length / count).toBeLessThan(0.002);
});

test('the largest and smallest words give finite numbers', () => {
  for (const real of reals)
    for (let tick = -2000; tick < 2000; tick++) {
      const x = answer('normal', real, 0x7fffffff, -0x80000000, tick * 99991, tick);
      expect(Math.abs(x)).toBeLessThan(6.7);
    }
});
