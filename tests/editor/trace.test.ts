/** Traces drawn from their levels show the same extremes as the values themselves, whatever stretch is looked at. */
import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { draw, Trace } from '../../editor/work/trace.ts';

function traceOf(values: readonly number[]): Trace {
  const trace = new Trace(true);
  for (const value of values) trace.push(value);
  return trace;
}

const values = fc.array(fc.oneof(fc.double({ noNaN: true }), fc.constant(Number.NaN)), {
  minLength: 1,
  maxLength: 1200,
});

test('extremes are those of the values', () => {
  fc.assert(
    fc.property(values, fc.nat(), fc.nat(), (list, a, b) => {
      const [from, to] = [a % list.length, b % (list.length + 1)].sort((x, y) => x - y) as [number, number];
      const numbers = list.slice(from, to).filter((value) => !Number.isNaN(value));
      const [low, high] = traceOf(list).extremes(from, to);
      if (numbers.length === 0) expect([low, high]).toEqual([Number.NaN, Number.NaN]);
      else {
        expect(low === Math.min(...numbers)).toBe(true);
        expect(high === Math.max(...numbers)).toBe(true);
      }
    }),
  );
});

test('stretches of a mode go through all ticks and change at each end', () => {
  fc.assert(
    fc.property(fc.array(fc.integer({ min: 0, max: 2 }), { minLength: 1, maxLength: 900 }), fc.nat(), (list, start) => {
      const from = start % list.length;
      const stretches = traceOf(list).stretches(from, list.length, 10_000);
      const again = stretches.flatMap(({ from: begin, to, value }) => Array.from({ length: to - begin }, () => value));
      expect(again).toEqual(list.slice(from));
      for (const [i, one] of stretches.entries()) if (i > 0) expect(one.value).not.toBe(stretches[i - 1]?.value);
    }),
  );
});

describe('drawing', () => {
  const wave = traceOf(Array.from({ length: 5000 }, (_, i) => Math.sin(i / 50)));

  test('few ticks are drawn one by one', () => {
    const { x, y } = draw([wave], 100, 140, 40);
    expect([...x]).toEqual(Array.from({ length: 40 }, (_, i) => 100 + i));
    expect(y[0]?.[3]).toBe(Math.sin(103 / 50));
  });

  test('many are drawn as two points a bucket that hold its least and greatest value', () => {
    const { x, y } = draw([wave], 0, 5000, 50);
    expect(x).toHaveLength(100);
    for (let i = 0; i < 50; i++) {
      const inside = Array.from({ length: 100 }, (_, k) => Math.sin((i * 100 + k) / 50));
      const drawn = [y[0]?.[2 * i] ?? 0, y[0]?.[2 * i + 1] ?? 0];
      expect(Math.min(...drawn)).toBe(Math.min(...inside));
      expect(Math.max(...drawn)).toBe(Math.max(...inside));
    }
  });

  test('a slope is drawn in its own direction, and what has not been run yet is a gap', () => {
    const falling = traceOf(Array.from({ length: 1000 }, (_, i) => -i));
    const { y } = draw([falling], 0, 2000, 20);
    const points = [...(y[0] ?? [])];
    const known = points.filter((value) => !Number.isNaN(value));
    expect(known).toEqual([...known].sort((a, b) => b - a));
    expect(points.slice(20).every(Number.isNaN)).toBe(true);
  });
});

test('a trace that is thinned keeps its least and greatest values, its newer half whole, and takes half the memory', () => {
  const whole = new Trace(true);
  const trace = new Trace(true);
  const value = (i: number) => Math.sin(i / 700) + (i === 1234 ? 9 : 0);
  for (let i = 0; i < 100_000; i++) {
    whole.push(value(i));
    trace.push(value(i));
  }
  const before = trace.bytes;
  const coarse = trace.thin();
  expect(coarse).toBe(50_000);
  expect(trace.bytes).toBeLessThan(0.75 * before);
  expect(trace.extremes(0, 100_000)).toEqual(whole.extremes(0, 100_000));
  for (const i of [50_000, 77_777, 99_999]) expect(trace.at(i)).toBe(whole.at(i));
  for (const i of [0, 1234, 49_999]) {
    const from = Math.floor(i / 16) * 16;
    expect(whole.extremes(from, from + 16)).toContain(trace.at(i));
  }
  for (let i = 100_000; i < 130_000; i++) {
    whole.push(value(i));
    trace.push(value(i));
  }
  for (let again = 0; again < 4; again++) trace.thin();
  expect(trace.extremes(0, 130_000)).toEqual(whole.extremes(0, 130_000));
  const drawn = draw([trace], 0, 130_000, 200).y[0] ?? [];
  const meant = draw([whole], 0, 130_000, 200).y[0] ?? [];
  expect(Math.max(...drawn)).toBe(Math.max(...meant));
});
