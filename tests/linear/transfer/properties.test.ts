/** What must hold for any system: random ones, each seen from two sides that share no arithmetic. */

import fc from 'fast-check';
import { Matrix, solve } from 'ml-matrix';
import { expect, test } from 'vitest';
import { band, envelope, worstOf } from '../../../compiler/linear/bands.ts';
import { circleCounts, halfPlaneCounts } from '../../../compiler/linear/boundary.ts';
import { closedPoles } from '../../../compiler/linear/closed_poles.ts';
import { discretise } from '../../../compiler/linear/discretise.ts';
import { sidesOf } from '../../../compiler/linear/edge.ts';
import { eigenvalues } from '../../../compiler/linear/eigenvalues.ts';
import { expand, factored, factoredOf } from '../../../compiler/linear/factored.ts';
import { locus } from '../../../compiler/linear/locus.ts';
import { margins } from '../../../compiler/linear/margins.ts';
import { fromRoots, product, valueAt } from '../../../compiler/linear/polynomial.ts';
import { openLoop, pointAt, response } from '../../../compiler/linear/response.ts';
import { roots } from '../../../compiler/linear/roots.ts';
import type { Complex, Factored, StateSpace } from '../../../compiler/linear/system.ts';
import { filtered, responseAt } from '../../../compiler/linear/time_response.ts';
import { expectSet, type Pair } from './cases.ts';

/** `RUNS=5000 SEED=7 npx vitest run …/properties.test.ts` looks farther, and elsewhere. */
const RUNS = { numRuns: Number(process.env.RUNS ?? 150), seed: Number(process.env.SEED ?? 1) };
const pairs = (list: readonly Complex[]) => list.map(({ re, im }): Pair => [re, im]);

/** Numbers with few digits, so that products of them are exact enough to be told apart. */
const decimal = (low: number, high: number) =>
  fc.integer({ min: Math.round(low * 64), max: Math.round(high * 64) }).map((n) => n / 64);

const realRoot = (low: number, high: number) => decimal(low, high).map((re): Complex[] => [{ re, im: 0 }]);
const pairOf = (low: number, high: number, top: number) =>
  fc.tuple(decimal(low, high), decimal(0.25, top)).map(([re, im]): Complex[] => [
    { re, im },
    { re, im: -im },
  ]);
const inS = fc.oneof(realRoot(-8, 2), pairOf(-4, 0.5, 8), realRoot(-8, -0.1), pairOf(-4, -0.1, 8));
const inZ = fc
  .tuple(
    fc.double({ min: 0.05, max: 1.15, noNaN: true }),
    fc.double({ min: 0, max: Math.PI, noNaN: true }),
    fc.boolean(),
  )
  .map(([size, angle, real]): Complex[] => {
    if (real) return [{ re: angle > 2.4 ? -size : size, im: 0 }];
    const [re, im] = [size * Math.cos(angle), size * Math.sin(angle)];
    return [
      { re, im },
      { re, im: -im },
    ];
  });
const onEdge = fc.constantFrom<Complex[]>(
  [],
  [],
  [{ re: 0, im: 0 }],
  [
    { re: 0, im: 2.5 },
    { re: 0, im: -2.5 },
  ],
);

function flat(parts: readonly (readonly Complex[])[]): Complex[] {
  return parts.flat();
}

/** Loops in s, with poles on the axis now and then. */
const loopsInS = fc
  .tuple(fc.array(inS, { minLength: 1, maxLength: 4 }), onEdge, fc.array(inS, { maxLength: 3 }), decimal(-8, 8))
  .map(([poles, edge, zeros, gain]): Factored => {
    const below = flat([...poles, edge]);
    const above = flat(zeros).slice(0, below.length);
    const paired = above.at(-1)?.im !== undefined && (above.at(-1)?.im ?? 0) > 0 ? above.slice(0, -1) : above;
    return { poles: below, zeros: paired, gain: gain === 0 ? 1 : gain, dt: 0, delay: 0 };
  });

const loopsInZ = fc
  .tuple(fc.array(inZ, { minLength: 1, maxLength: 4 }), fc.boolean(), fc.array(inZ, { maxLength: 3 }), decimal(-2, 2))
  .map(([poles, integrates, zeros, gain]): Factored => {
    const below = flat([...poles, integrates ? [{ re: 1, im: 0 }] : []]);
    const above = flat(zeros).slice(0, below.length);
    const paired = (above.at(-1)?.im ?? 0) > 0 ? above.slice(0, -1) : above;
    return { poles: below, zeros: paired, gain: gain === 0 ? 0.5 : gain, dt: 0.1, delay: 0 };
  });

test('roots of a product are the roots of its factors, as far as its coefficients tell them', () => {
  fc.assert(
    fc.property(fc.array(fc.oneof(realRoot(-8, 8), pairOf(-8, 8, 8)), { minLength: 1, maxLength: 5 }), (parts) => {
      const wanted = flat(parts);
      const found = roots(fromRoots(wanted));
      // Multiplied out again they give the same coefficients, whatever their conditioning.
      const [back, again] = [fromRoots(wanted), fromRoots(found)];
      const size = Math.max(...fromRoots(wanted.map(({ re, im }) => ({ re: -Math.hypot(re, im), im: 0 }))));
      for (const [i, c] of back.entries()) expect(Math.abs(c - (again[i] ?? 0))).toBeLessThanOrEqual(1e-13 * size);
      for (const { re, im } of found) if (im !== 0) expect(found).toContainEqual({ re, im: -im });
    }),
    RUNS,
  );
});

test('roots on, left and right of the edge are counted exactly', () => {
  const whole = fc.integer({ min: -3, max: 3 });
  // Factors (s − a) and (s² − 2as + a² + b²) in whole numbers are exact, and so are their products.
  const factor = fc.oneof(
    whole.map((a) => ({ list: [1, -a], at: [a] })),
    fc.tuple(whole, fc.integer({ min: 1, max: 3 })).map(([a, b]) => ({ list: [1, -2 * a, a * a + b * b], at: [a, a] })),
  );
  fc.assert(
    fc.property(fc.array(factor, { minLength: 1, maxLength: 5 }), (factors) => {
      const list = factors.reduce<readonly number[]>((made, { list }) => product(made, list), [3]);
      const sides = factors.flatMap(({ at }) => at);
      expect(halfPlaneCounts(list)).toEqual({
        stable: sides.filter((a) => a < 0).length,
        edge: sides.filter((a) => a === 0).length,
        unstable: sides.filter((a) => a > 0).length,
      });
    }),
    RUNS,
  );
});

test('roots inside, on and outside the circle are counted exactly', () => {
  // cos of these angles is a half or whole: exact coefficients on the circle.
  const factor = fc.oneof(
    fc.constantFrom(
      { list: [1, -1], size: 1 },
      { list: [1, 1], size: 1 },
      { list: [1, -1, 1], size: 1 },
      { list: [1, 1, 1], size: 1 },
      { list: [1, 0, 1], size: 1 },
      { list: [1, -1.25, 1], size: 1 },
    ),
    fc.integer({ min: -7, max: 7 }).map((a) => ({ list: [1, a / 4], size: Math.abs(a / 4) })),
    fc.integer({ min: 1, max: 7 }).map((c) => ({ list: [1, 0.25, c / 4], size: Math.sqrt(c / 4) })),
  );
  fc.assert(
    fc.property(fc.array(factor, { minLength: 1, maxLength: 5 }), (factors) => {
      const list = factors.reduce<readonly number[]>((made, { list }) => product(made, list), [1]);
      const sizes = factors.flatMap(({ list, size }) => new Array<number>(list.length - 1).fill(size));
      expect(circleCounts(list)).toEqual({
        stable: sizes.filter((size) => size < 1).length,
        edge: sizes.filter((size) => size === 1).length,
        unstable: sizes.filter((size) => size > 1).length,
      });
    }),
    RUNS,
  );
});

test.each([
  ['s', loopsInS],
  ['z', loopsInZ],
] as const)('in %s the count along the response is that of the closed-loop poles', (_, loops) => {
  let compared = 0;
  fc.assert(
    fc.property(loops, (parts) => {
      const loop = openLoop(parts);
      if (Math.abs(1 + loop.direct) < 0.01) return;
      const found = margins(loop);
      // Too near the edge nothing is to be told by either.
      if (found.modulusMargin < 1e-6) return;
      compared++;
      expect(found.countAgrees).toBe(true);
      if (found.gainInterval === null) return;
      const [low, high] = found.gainInterval;
      const unstable = (gain: number) => sidesOf(loop.closed(gain) ?? [], loop.dt).unstable.length;
      if (low > 0) expect([unstable(low * 1.0001) === 0, unstable(low * 0.9999) > 0]).toEqual([true, true]);
      if (high !== null) expect([unstable(high * 0.9999) === 0, unstable(high * 1.0001) > 0]).toEqual([true, true]);
    }),
    { ...RUNS, numRuns: Math.max(400, RUNS.numRuns) },
  );
  expect(compared).toBeGreaterThan(300);
});

test('margins are those of the definition', () => {
  fc.assert(
    fc.property(loopsInS, (parts) => {
      const loop = openLoop(parts);
      if (Math.abs(1 + loop.direct) < 0.01) return;
      const found = margins(loop);
      const off = (w: number): number => {
        const { re, im } = loop.at(w);
        return Math.hypot(re, im) - 1;
      };
      // Beside a pole or zero that nearly touches the axis neighbouring numbers may be farther apart than that.
      for (const w of found.crossovers)
        if (off(w * (1 - 2e-15)) * off(w * (1 + 2e-15)) > 0) expect(off(w)).toBeCloseTo(0, 8);
      for (const w of found.phaseCrossovers) {
        const { re, im } = loop.at(w);
        expect(re).toBeLessThan(0);
        expect(Math.abs(im / re)).toBeLessThan(1e-7);
      }
      // No point of the curve comes nearer to −1 than the modulus margin.
      for (let i = 0; i <= 600; i++) {
        const { re, im } = loop.at(10 ** (-3 + i / 100));
        if (Number.isFinite(re))
          expect(Math.hypot(1 + re, im)).toBeGreaterThanOrEqual(found.modulusMargin * (1 - 1e-9));
      }
    }),
    RUNS,
  );
});

const states = fc
  .tuple(fc.integer({ min: 1, max: 9 }), fc.boolean(), fc.integer({ min: 1, max: 1e9 }))
  .map(([n, direct, seed]): StateSpace => {
    let at = seed;
    const next = () => {
      at = (at * 16807) % 2147483647;
      return at / 2147483647 - 0.5;
    };
    const A = Matrix.zeros(n, n);
    const B = Matrix.zeros(n, 1);
    const C = Matrix.zeros(1, n);
    for (let i = 0; i < n; i++) {
      for (let j = 0; j < n; j++) if (next() > -0.2) A.set(i, j, 6 * next());
      if (next() > 0) B.set(i, 0, next());
      if (next() > 0) C.set(0, i, next());
    }
    return { A, B, C, D: new Matrix([[direct ? next() : 0]]), dt: 0 };
  });

/** C (jωI − A)⁻¹ B + D, solved in real numbers. */
function solved({ A, B, C, D }: StateSpace, w: number): Complex {
  const n = A.rows;
  const big = Matrix.zeros(2 * n, 2 * n);
  big.setSubMatrix(Matrix.mul(A, -1), 0, 0);
  big.setSubMatrix(Matrix.mul(A, -1), n, n);
  for (let i = 0; i < n; i++) {
    big.set(i, n + i, -w);
    big.set(n + i, i, w);
  }
  const right = Matrix.zeros(2 * n, 1);
  right.setSubMatrix(B, 0, 0);
  const x = solve(big, right).to1DArray();
  const c = C.to1DArray();
  return {
    re: D.get(0, 0) + c.reduce((sum, value, i) => sum + value * (x[i] ?? 0), 0),
    im: c.reduce((sum, value, i) => sum + value * (x[n + i] ?? 0), 0),
  };
}

test('poles, zeros and gain of a state space give its response', () => {
  fc.assert(
    fc.property(states, (system) => {
      const parts = factoredOf(system);
      const size = system.A.norm('frobenius') + 1;
      for (const w of [0.13, 1.1, 4.7]) {
        const [got, wanted] = [response(parts, w), solved(system, w)];
        const scale = Math.max(Math.hypot(wanted.re, wanted.im), 1e-6 / size);
        expect(Math.hypot(got.re - wanted.re, got.im - wanted.im)).toBeLessThanOrEqual(1e-7 * scale);
      }
    }),
    RUNS,
  );
});

test('closed-loop poles from factors are the eigenvalues of the closed loop', () => {
  fc.assert(
    fc.property(states, decimal(0.1, 4), (system, gain) => {
      const { A, B, C, D } = system;
      const through = 1 + gain * D.get(0, 0);
      if (Math.abs(through) < 0.05) return;
      const closed = Matrix.sub(A, Matrix.mul(B.mmul(C), gain / through));
      const wanted = eigenvalues(closed);
      const size = Math.max(...wanted.map(({ re, im }) => Math.hypot(re, im)), 1);
      // Eigenvalues that nearly meet are known to no more than half the digits.
      expectSet(closedPoles(factoredOf(system), gain), pairs(wanted), () => 1e-6 * size);
    }),
    RUNS,
  );
});

test('a locus passes through the closed-loop poles of each gain', () => {
  fc.assert(
    fc.property(loopsInS, (parts) => {
      const gains = [0.01, 0.1, 0.5, 1, 2, 10];
      if (gains.some((gain) => parts.zeros.length === parts.poles.length && Math.abs(1 + gain * parts.gain) < 0.05))
        return;
      const { poles } = locus(parts, gains);
      gains.forEach((gain, i) => {
        const wanted = closedPoles(parts, gain);
        const size = Math.max(...wanted.map(({ re, im }) => Math.hypot(re, im)), 1);
        expectSet(poles[i] ?? [], pairs(wanted), () => 1e-5 * size);
      });
    }),
    RUNS,
  );
});

test('Tustin’s equivalent answers at a frequency as the system does at the warped one', () => {
  fc.assert(
    fc.property(loopsInS, decimal(0.05, 3), (parts, w) => {
      const dt = 0.1;
      if (parts.poles.some(({ re, im }) => im === 0 && Math.abs(re - 2 / dt) < 1e-6)) return;
      const { value } = discretise({ ...expand(parts), dt: 0, delay: 0 }, dt, 'tustin');
      if (value === undefined) throw new Error('there is an equivalent');
      const [got, wanted] = [response(value, w), response(parts, (2 / dt) * Math.tan((w * dt) / 2))];
      if (!Number.isFinite(wanted.re)) return;
      // What rounding its coefficients alone does to a polynomial at a point, over its value there.
      const rounding = (list: readonly number[]): number => {
        const at = pointAt(w, dt);
        const { re, im } = valueAt(list, at.re, at.im);
        return (2 ** -52 * list.reduce((sum, c) => sum + Math.abs(c), 0)) / Math.hypot(re, im);
      };
      const tolerance = 10 * (rounding(value.num) + rounding(value.den));
      if (tolerance < 0.1)
        expect(Math.hypot(got.re - wanted.re, got.im - wanted.im)).toBeLessThanOrEqual(
          tolerance * Math.hypot(wanted.re, wanted.im),
        );
    }),
    RUNS,
  );
});

test('a held equivalent answers a step at its samples as the system does', () => {
  fc.assert(
    fc.property(loopsInS, decimal(0.05, 0.5), (parts, dt) => {
      const system = { ...expand(parts), dt: 0, delay: 0 };
      const { value } = discretise(system, dt, 'zoh');
      if (value === undefined) throw new Error('there is an equivalent');
      const samples = Array.from({ length: 12 }, (_, k) => k * dt);
      const wanted = responseAt(system, 'step', samples, dt).y;
      const got = filtered(
        value,
        samples.map(() => 1),
      );
      const size = Math.max(...wanted.map(Math.abs), 1e-9);
      for (const [k, y] of wanted.entries()) expect(Math.abs(y - (got[k] ?? 0))).toBeLessThanOrEqual(1e-8 * size);
    }),
    RUNS,
  );
});

test('the worst member of a band is the one nearest to −1, and named', () => {
  const parts = factored({ num: [4], den: [1, 3, 3, 1], dt: 0, delay: 0 });
  const gain = { name: 'gain', loop: (factor: number) => openLoop({ ...parts, gain: parts.gain * factor }) };
  const { members, worst } = band(gain, 0.2);
  expect(members.map(({ factor }) => Number(factor.toFixed(3)))).toEqual([0.8, 0.9, 1, 1.1, 1.2]);
  expect([worst.name, worst.factor]).toEqual(['gain', expect.closeTo(1.2, 12)]);
  // Past the gain margin of 2 members are unstable, and worse than any stable one.
  const wide = band(gain, 0.9);
  expect(band({ ...gain, loop: (factor) => gain.loop(1.2 * factor) }, 0.9).worst.margins.closedLoopUnstable).toBe(2);
  expect(worstOf([...members, ...wide.members]).factor).toBeCloseTo(1.9, 9);
  const { low, high } = envelope([gain.loop(0.8), gain.loop(1.2)], [0.1, 1]);
  expect(high.map((value, i) => value / (low[i] ?? 1))).toEqual([expect.closeTo(1.5, 9), expect.closeTo(1.5, 9)]);
});
