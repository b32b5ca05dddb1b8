/** Derived equations against published ones, as formulas and through the compiled block, at random states. */

import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { printExpression } from '../../../compiler/language/print.ts';
import { drivenBy, type MotionEquations, valueAt } from '../../../compiler/linear/motion.ts';
import { balances } from '../../../compiler/linear/motion_block.ts';
import type { EnergyModel } from '../../../compiler/sheet/energy_model.ts';
import { doublePendulum, pendulumOnCart, reactionWheelPendulum } from './models.ts';
import { derived, expectClose, Plant } from './plant.ts';

const { sin, cos } = Math;

interface Published {
  readonly model: EnergyModel;
  readonly source: string;
  readonly parameters: Readonly<Record<string, number>>;
  /** Left side minus right side of the published equations, at [q1, v1, q2, v2], accelerations and the input. */
  readonly residue: (s: readonly number[], a: readonly number[], u: number) => readonly number[];
  readonly input?: string;
  /** The derived equations as we write them. */
  readonly written: readonly string[];
}

const [M, m, l, J, b, g] = [0.5, 0.2, 0.3, 0.006, 0.1, 9.81];
const [m1, m2, l1, l2] = [1.3, 0.7, 0.9, 0.6];
const wheel = { m1: 0.2, m2: 0.3, lc1: 0.06, l1: 0.12, I1: 5e-4, I2: 3e-4 };

const published: readonly Published[] = [
  {
    model: pendulumOnCart,
    source:
      'Control System Synthesis, PhD class, exercise session 2 (8 October 2020), eq. 1, looked up: (M + m)ẍ + bẋ + mlθ̈cosθ − mlθ̇²sinθ = F, (J + ml²)θ̈ + mgl sinθ = −mlẍcosθ',
    parameters: { M, m, l, J, b, g },
    input: 'F',
    residue: ([, v = 0, th = 0, w = 0], [ax = 0, ath = 0], F) => [
      (M + m) * ax + b * v + m * l * ath * cos(th) - m * l * w * w * sin(th) - F,
      (J + m * l * l) * ath + m * g * l * sin(th) + m * l * ax * cos(th),
    ],
    written: [
      '(M + m) * v_rate + m * l * theta_rate_rate * cos(theta) - m * l * theta_rate^2 * sin(theta) + b * v == F',
      'm * l * v_rate * cos(theta) + (m * l^2 + J) * theta_rate_rate + m * l * g * sin(theta) == 0',
    ],
  },
  {
    model: reactionWheelPendulum,
    source:
      'M. W. Spong, P. Corke, R. Lozano, Nonlinear control of the reaction wheel pendulum, Automatica 37 (2001), from memory: d11·θ̈1 + d12·θ̈2 + φ(θ1) = 0, d21·θ̈1 + d22·θ̈2 = τ, φ = −(m1·lc1 + m2·l1)·g·sin θ1',
    parameters: { ...wheel, g },
    input: 'tau',
    residue: ([th = 0], [a1 = 0, a2 = 0], tau) => {
      const d11 = wheel.m1 * wheel.lc1 ** 2 + wheel.m2 * wheel.l1 ** 2 + wheel.I1 + wheel.I2;
      const weight = -(wheel.m1 * wheel.lc1 + wheel.m2 * wheel.l1) * g * sin(th);
      return [d11 * a1 + wheel.I2 * a2 + weight, wheel.I2 * a1 + wheel.I2 * a2 - tau];
    },
    written: [
      '(m1 * lc1^2 + m2 * l1^2 + I1 + I2) * w1_rate + I2 * w2_rate - (m1 * lc1 + m2 * l1) * g * sin(theta1) == 0',
      'I2 * w1_rate + I2 * w2_rate == tau',
    ],
  },
  {
    model: doublePendulum,
    source:
      'N. A. Lemos, Analytical Mechanics (Cambridge 2018), the Lagrangian, eqs. 1.120–1.126, looked up; the equations themselves from memory, as in J. R. Taylor, Classical Mechanics (2005), ch. 11',
    parameters: { m1, m2, l1, l2, g },
    residue: ([p = 0, w1 = 0, q = 0, w2 = 0], [a1 = 0, a2 = 0]) => [
      (m1 + m2) * l1 * l1 * a1 +
        m2 * l1 * l2 * a2 * cos(p - q) +
        m2 * l1 * l2 * w2 * w2 * sin(p - q) +
        (m1 + m2) * g * l1 * sin(p),
      m2 * l2 * l2 * a2 + m2 * l1 * l2 * a1 * cos(p - q) - m2 * l1 * l2 * w1 * w1 * sin(p - q) + m2 * g * l2 * sin(q),
    ],
    written: [
      '(m1 + m2) * l1^2 * w1_rate + m2 * l1 * l2 * w2_rate * cos(theta1 - theta2) + m2 * l1 * l2 * w2^2 * sin(theta1 - theta2) + (m1 + m2) * l1 * g * sin(theta1) == 0',
      'm2 * l1 * l2 * w1_rate * cos(theta1 - theta2) + m2 * l2^2 * w2_rate - m2 * l1 * l2 * w1^2 * sin(theta1 - theta2) + m2 * l2 * g * sin(theta2) == 0',
    ],
  },
];

const angle = fc.double({ min: -3.2, max: 3.2, noNaN: true });
const speed = fc.double({ min: -5, max: 5, noNaN: true });
const anywhere = fc.tuple(angle, speed, angle, speed, fc.double({ min: -2, max: 2, noNaN: true }));

/** What the derived equations leave over at given accelerations. */
function residueOf(equations: MotionEquations, values: ReadonlyMap<string, number>, a: readonly number[]): number[] {
  const driven = drivenBy(equations);
  return equations.mass.map(
    (row, i) =>
      row.reduce((sum, entry, j) => sum + valueAt(entry, values) * (a[j] ?? 0), 0) -
      valueAt(driven[i] ?? new Map(), values),
  );
}

describe.each(published)('$model.name ($source)', ({ model, parameters, residue, input, written }) => {
  const equations = derived(model);
  const plant = new Plant(model);

  test('the equations agree as formulas', () => {
    fc.assert(
      fc.property(anywhere, speed, speed, ([q1, v1, q2, v2, u], a1, a2) => {
        const names = model.coordinates.map(({ name, speed = `${name}_rate` }) => [name, speed] as const);
        const values = new Map(Object.entries(parameters));
        for (const [i, [name, rate]] of names.entries()) values.set(name, [q1, q2][i] ?? 0).set(rate, [v1, v2][i] ?? 0);
        if (input !== undefined) values.set(input, u);
        expectClose(residueOf(equations, values, [a1, a2]), residue([q1, v1, q2, v2], [a1, a2], u), 1e-12);
      }),
      { numRuns: 200 },
    );
  });

  test('the compiled block moves as they say', () => {
    fc.assert(
      fc.property(anywhere, ([q1, v1, q2, v2, u]) => {
        const state = [q1, v1, q2, v2];
        const [r1 = 0, a1 = 0, r2 = 0, a2 = 0] = plant.flow(state, input === undefined ? {} : { [input]: u });
        expect([r1, r2]).toEqual([v1, v2]);
        // The residue is a sum of terms that may be larger than 1; each rounds.
        const [zeroth = [], size = []] = [residue(state, [a1, a2], u), residue(state, [0, 0], u)];
        for (const [i, left] of zeroth.entries())
          expect(Math.abs(left)).toBeLessThan(1e-12 * Math.max(1, Math.abs(size[i] ?? 0), Math.abs(a1), Math.abs(a2)));
      }),
      { numRuns: 200 },
    );
  });

  test('they are written as a textbook would', () => {
    expect(balances(equations).map(printExpression)).toEqual(written);
  });
});

test('double pendulum: the accelerations in closed form, as widely published (from memory)', () => {
  const plant = new Plant(doublePendulum);
  fc.assert(
    fc.property(anywhere, ([p, w1, q, w2]) => {
      const below = 2 * m1 + m2 - m2 * cos(2 * p - 2 * q);
      const first =
        (-g * (2 * m1 + m2) * sin(p) -
          m2 * g * sin(p - 2 * q) -
          2 * sin(p - q) * m2 * (w2 * w2 * l2 + w1 * w1 * l1 * cos(p - q))) /
        (l1 * below);
      const second =
        (2 * sin(p - q) * (w1 * w1 * l1 * (m1 + m2) + g * (m1 + m2) * cos(p) + w2 * w2 * l2 * m2 * cos(p - q))) /
        (l2 * below);
      const [, a1 = 0, , a2 = 0] = plant.flow([p, w1, q, w2]);
      expectClose([a1, a2], [first, second], 1e-12);
    }),
    { numRuns: 300 },
  );
});
