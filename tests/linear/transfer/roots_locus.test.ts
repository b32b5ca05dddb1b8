/** Roots, locus and counts against tests/reference/04-roots-locus.json (mpmath, exact fractions; each case names its source). */

import { describe, expect, test } from 'vitest';
import { circleCounts, halfPlaneCounts, routhColumn } from '../../../compiler/linear/boundary.ts';
import { factored } from '../../../compiler/linear/factored.ts';
import { locus } from '../../../compiler/linear/locus.ts';
import { departures } from '../../../compiler/linear/locus_landmarks.ts';
import { valueAt } from '../../../compiler/linear/polynomial.ts';
import { roots } from '../../../compiler/linear/roots.ts';
import type { Complex } from '../../../compiler/linear/system.ts';
import { asked, casesOf, expectList, expectNear, expectSet, type Pair, sizeOf } from './cases.ts';

const file = '04-roots-locus.json';

interface Coefficients {
  readonly coeffs: readonly number[];
}

test.each(casesOf<Coefficients, { readonly roots: readonly Pair[] }>(file, 'roots'))('%s', (_, one) => {
  const found = roots(one.inputs.coeffs);
  const allowed = (one.tolerance as unknown as { abs_per_root: readonly number[] }).abs_per_root;
  expectSet(found, one.expected.roots, (_, i) => allowed[i] ?? 0);
  for (const root of found) {
    if (root.im !== 0) expect(found).toContainEqual({ re: root.re, im: -root.im });
  }
});

interface LocusInputs {
  readonly num: readonly number[];
  readonly den: readonly number[];
  readonly gains: readonly number[];
  readonly T?: number;
}

interface WantedLocus {
  readonly closed_loop_poles: readonly (readonly Pair[])[];
  readonly breakaway_points: readonly { readonly s: Pair; readonly K: number }[];
  readonly boundary_crossings: readonly { readonly w: number; readonly K: number }[];
  readonly asymptotes?: { readonly centroid: number; readonly angles_deg: readonly number[] };
}

describe.each(casesOf<LocusInputs, WantedLocus>(file, 'locus'))('%s', (_, { inputs, expected, tolerance }) => {
  const { num, den, gains, T } = inputs;
  const allowed = (set: readonly Pair[]) => (tolerance.poles?.rel ?? 0) * Math.max(...set.map(sizeOf));

  test('in the library', () => {
    const { poles } = locus({ num, den, dt: T ?? 0, delay: 0 }, gains);
    for (const [i, set] of expected.closed_loop_poles.entries()) expectSet(poles[i] ?? [], set, () => allowed(set));
  });

  test('asked of the command', async () => {
    const words = ['--num', num.join(','), '--den', den.join(','), '--gains', gains.join(',')];
    const { status, data } = await asked('locus', ...words, ...(T === undefined ? [] : ['--dt', `${T}`]));
    expect([status, data.gains]).toEqual([0, gains]);
    const poles = data.poles as Complex[][];
    for (const [i, set] of expected.closed_loop_poles.entries()) expectSet(poles[i] ?? [], set, () => allowed(set));
    const meets = data.breakaways as (Complex & { gain: number })[];
    expectSet(
      meets,
      expected.breakaway_points.map(({ s }) => s),
      (s) => 1e-7 * sizeOf(s),
    );
    for (const { s, K } of expected.breakaway_points) {
      const nearest = meets.toSorted(
        (a, b) => Math.hypot(a.re - s[0], a.im - s[1]) - Math.hypot(b.re - s[0], b.im - s[1]),
      )[0];
      expectNear(nearest?.gain, K, 1e-8);
    }
    const crossings = data.crossings as { w: number; gain: number }[];
    expectList(
      crossings.map(({ w }) => w),
      expected.boundary_crossings.map(({ w }) => w),
      1e-8,
    );
    expectList(
      crossings.map(({ gain }) => gain),
      expected.boundary_crossings.map(({ K }) => K),
      1e-8,
    );
    if (expected.asymptotes === undefined) return;
    const { centroid, angles } = data.asymptotes as { centroid: number; angles: number[] };
    expectNear(centroid, expected.asymptotes.centroid, 1e-9, 1e-9);
    expectList(angles, expected.asymptotes.angles_deg, 0, undefined, 1e-9);
  });
});

interface PoleInputs {
  readonly num: readonly number[];
  readonly den: readonly number[];
  readonly pole: Pair;
}

test.each(casesOf<PoleInputs, { readonly angle_deg: number }>(file, 'departure_angle'))(
  '%s',
  (_, { inputs, expected }) => {
    const { num, den, pole } = inputs;
    const found = departures(factored({ num, den, dt: 0, delay: 0 }));
    const at = found.find(({ re, im }) => Math.hypot(re - pole[0], im - pole[1]) < 1e-9);
    expectNear(at?.angles[0], expected.angle_deg, 0, 1e-9);
  },
);

interface Routh {
  readonly rhp: number;
  readonly jw: number;
  readonly lhp: number;
  readonly routh_first_column: readonly number[] | null;
}

test.each(casesOf<Coefficients, Routh>(file, 'routh'))('%s', (_, { inputs, expected }) => {
  const { rhp, jw, lhp, routh_first_column: column } = expected;
  expect(halfPlaneCounts(inputs.coeffs)).toEqual({ stable: lhp, edge: jw, unstable: rhp });
  const got = routhColumn(inputs.coeffs);
  if (column === null) expect(got).toBeUndefined();
  else expectList(got ?? [], column, 1e-9);
});

interface Jury {
  readonly inside: number;
  readonly on: number;
  readonly outside: number;
  readonly p_at_1: number;
  readonly pm1_times_minus1_pow_n: number;
}

test.each(casesOf<Coefficients, Jury>(file, 'jury'))('%s', (_, { inputs: { coeffs }, expected }) => {
  const { inside, on, outside } = expected;
  expect(circleCounts(coeffs)).toEqual({ stable: inside, edge: on, unstable: outside });
  expectNear(valueAt(coeffs, 1, 0).re, expected.p_at_1, 1e-9, 1e-15);
  expectNear(valueAt(coeffs, -1, 0).re * (-1) ** (coeffs.length - 1), expected.pm1_times_minus1_pow_n, 1e-9, 1e-15);
});

test('branches keep their order through a place where they meet and leave the axis', () => {
  // 1/(s(s+2)): real branches up to a gain of 1, then straight up and down.
  const gains = Array.from({ length: 60 }, (_, i) => i / 20);
  const { poles } = locus({ num: [1], den: [1, 2, 0], dt: 0, delay: 0 }, gains);
  for (const branch of [0, 1]) {
    const way = poles.map((set) => set[branch] ?? { re: 0, im: 0 });
    for (let i = 1; i < way.length; i++) {
      const [a, b] = [way[i - 1], way[i]];
      if (a === undefined || b === undefined) continue;
      expect(Math.hypot(a.re - b.re, a.im - b.im)).toBeLessThan(0.3);
    }
  }
});

test('gains may stand in any order, be 0 or turn the sign', () => {
  const { poles } = locus({ num: [1], den: [1, 2, 0], dt: 0, delay: 0 }, [3, 0, -3]);
  expectSet(
    poles[0] ?? [],
    [
      [-1, Math.SQRT2],
      [-1, -Math.SQRT2],
    ],
    () => 1e-12,
  );
  expectSet(
    poles[1] ?? [],
    [
      [0, 0],
      [-2, 0],
    ],
    () => 0,
  );
  expectSet(
    poles[2] ?? [],
    [
      [1, 0],
      [-3, 0],
    ],
    () => 1e-12,
  );
});

test.each([
  ['no gains', ['--num', '1', '--den', '1,1'], 2, /--gains is missing; /],
  ['a gain without end', ['--num', '1', '--den', '1,1', '--gains', '1,Infinity'], 1, /Infinity is not a finite gain; /],
  ['improper', ['--num', '1,0,0', '--den', '1,1', '--gains', '1'], 1, /the numerator has power 2/],
] as const)('no locus: %s', async (_, words, wanted, said) => {
  const { status, errors } = await asked('locus', ...words);
  expect(status).toBe(wanted);
  expect(errors).toMatch(said);
});
