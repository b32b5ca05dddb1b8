/**
 * Linearised derived plants against tests/reference/08-linearisation.json (Jacobians by SymPy, its sources named there),
 * and the row scout's open-loop poles against SciPy's.
 */

import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { EigenvalueDecomposition, Matrix } from 'ml-matrix';
import { describe, expect, test } from 'vitest';
import type { EnergyModel } from '../../../compiler/sheet/energy_model.ts';
import { expectClose, Plant } from './plant.ts';

interface Case {
  readonly id: string;
  readonly inputs: {
    readonly params: Readonly<Record<string, number>>;
    readonly x_eq: readonly number[];
    readonly u_eq: readonly number[];
  };
  readonly expected: {
    readonly A: number[][];
    readonly B: number[][];
    readonly eigenvalues: readonly (readonly [number, number])[];
  };
  readonly tolerance: { readonly matrices: { readonly rel: number; readonly abs: number } };
}

const file = JSON.parse(readFileSync(join(import.meta.dirname, '../../reference/08-linearisation.json'), 'utf8')) as {
  cases: Case[];
};

function caseOf(id: string): Case {
  const found = file.cases.find((each) => each.id === id);
  if (found === undefined) throw new Error(`no case ${id}`);
  return found;
}

function expectMatrix(got: readonly number[][], want: readonly number[][], within: { rel: number; abs: number }): void {
  expect(got.length).toBe(want.length);
  for (const [i, row] of want.entries())
    for (const [j, x] of row.entries()) {
      const off = Math.abs((got[i]?.[j] ?? Number.NaN) - x);
      expect(off, `[${i}, ${j}]`).toBeLessThanOrEqual(Math.max(within.abs, within.rel * Math.abs(x)));
    }
}

const units: Readonly<Record<string, string>> = {
  M: 'kg',
  m: 'kg',
  l: 'm',
  g: 'm/s^2',
  b: 'N s/m',
  J: 'kg m^2',
  Jw: 'kg m^2',
  mgl: 'N m',
  d: 'N m s/rad',
  Cm: 'N m^2/A^2',
};

const parametersOf = ({ inputs }: Case) =>
  Object.entries(inputs.params).flatMap(([name, value]) => {
    const unit = units[name];
    return unit === undefined ? [] : [{ name, unit, value }];
  });

const cart = (of: Case): EnergyModel => ({
  name: 'cart',
  coordinates: [
    { name: 'x', unit: 'm', speed: 'v' },
    { name: 'th', unit: 'rad', speed: 'w' },
  ],
  parameters: parametersOf(of),
  kinetic: '0.5 * M * v^2 + 0.5 * m * ((v + l * w * cos(th))^2 + (l * w * sin(th))^2)',
  potential: 'm * g * l * cos(th)',
  dissipation: '0.5 * b * v^2',
  forces: [{ name: 'F', unit: 'N', on: 'x' }],
});

const reactionWheel = (of: Case): EnergyModel => ({
  name: 'reaction_wheel',
  coordinates: [
    { name: 'th', unit: 'rad', speed: 'w' },
    { name: 'turned', unit: 'rad', speed: 'om' },
  ],
  parameters: parametersOf(of),
  kinetic: 'J * w^2 / 2 + Jw * (w + om)^2 / 2',
  potential: 'mgl * cos(th)',
  dissipation: 'd * om^2 / 2',
  forces: [{ name: 'tau', unit: 'N m', on: 'turned' }],
});

const levitator = (of: Case): EnergyModel => ({
  name: 'levitator',
  coordinates: [{ name: 'x', unit: 'm', speed: 'v', start: 0.01 }],
  parameters: parametersOf(of),
  kinetic: 'm * v^2 / 2',
  potential: '-m * g * x',
  forces: [{ name: 'i', unit: 'A', on: 'x', as: '-Cm * (i / x)^2' }],
});

describe('topic 8 of the reference values', () => {
  test.each(['v-cart-up', 'v-cart-down', 'v-cart-ogata'])('%s', (id) => {
    const of = caseOf(id);
    const { A, B } = new Plant(cart(of)).linearised(of.inputs.x_eq, 'F');
    expectMatrix(A, of.expected.A, of.tolerance.matrices);
    expectMatrix(
      B.map((x) => [x]),
      of.expected.B,
      of.tolerance.matrices,
    );
  });

  test('v-rwp, the wheel’s angle left out', () => {
    const of = caseOf('v-rwp');
    const { A, B } = new Plant(reactionWheel(of)).linearised([0, 0, 0, 0], 'tau');
    const without = <T>(rows: readonly T[]): T[] => rows.filter((_, i) => i !== 2);
    expectMatrix(without(A).map(without), of.expected.A, of.tolerance.matrices);
    expectMatrix(
      without(B).map((x) => [x]),
      of.expected.B,
      of.tolerance.matrices,
    );
  });

  test('v-maglev, its current entering squared', () => {
    const of = caseOf('v-maglev');
    const { A, B } = new Plant(levitator(of)).linearised(of.inputs.x_eq, 'i', of.inputs.u_eq[0]);
    expectMatrix(A, of.expected.A, of.tolerance.matrices);
    expectMatrix(
      B.map((x) => [x]),
      of.expected.B,
      of.tolerance.matrices,
    );
  });
});

/** The row scout's numbers; its motor's torque acts between body and wheel, and its voltage is 0. */
const scout = (kinetic: string): EnergyModel => ({
  name: 'row_scout',
  coordinates: [
    { name: 'lean', unit: 'rad', speed: 'lean_rate' },
    { name: 'turned', unit: 'rad', speed: 'spin', words: 'of the wheel, as seen from the body' },
  ],
  parameters: [
    { name: 'J', unit: 'kg m^2', value: 0.031 },
    { name: 'm', unit: 'kg', value: 1.8 },
    { name: 'l', unit: 'm', value: 0.11 },
    { name: 'g', unit: 'm/s^2', value: 9.81 },
    { name: 'Jw', unit: 'kg m^2', value: 2.1e-3, words: 'of the wheel' },
    { name: 'Jr', unit: 'kg m^2', value: 6e-6, words: 'of the motor’s rotor' },
    { name: 'n', unit: '', value: 3, words: 'turns of the rotor for one of the wheel' },
    { name: 'K', unit: 'V s/rad', value: 0.028 },
    { name: 'R', unit: 'Ohm', value: 0.75 },
  ],
  kinetic,
  potential: 'm * g * l * cos(lean)',
  forces: [{ name: 'voltage', unit: 'V', on: 'turned', as: 'n * K * (voltage - K * n * spin) / R' }],
});

/** Poles at upright without the wheel's angle, from the largest. */
function poles(kinetic: string): number[] {
  const { A } = new Plant(scout(kinetic)).linearised([0, 0, 0, 0], 'voltage');
  const three = new Matrix(A).selection([0, 1, 3], [0, 1, 3]);
  const { realEigenvalues, imaginaryEigenvalues } = new EigenvalueDecomposition(three);
  expect(imaginaryEigenvalues).toEqual([0, 0, 0]);
  return realEigenvalues.sort((a, b) => b - a);
}

describe('the row scout (values by SciPy, to the digits given)', () => {
  const full = 'J / 2 * lean_rate^2 + Jw / 2 * (lean_rate + spin)^2 + Jr / 2 * (lean_rate + n * spin)^2';
  const reflected = 'J / 2 * lean_rate^2 + (Jw + n^2 * Jr) / 2 * (lean_rate + spin)^2';

  test('with the rotor at its absolute rate', () => {
    const [up = 0, slow = 0, fast = 0] = poles(full);
    expect([up, fast, slow].map((x) => x.toFixed(4))).toEqual(['7.8192', '-8.2312', '-4.2489']);
  });

  test('with the rotor merely reflected to the wheel', () => {
    const [up = 0, slow = 0, fast = 0] = poles(reflected);
    expect([up, fast, slow].map((x) => x.toFixed(5))).toEqual(['7.81889', '-8.24490', '-4.24516']);
  });

  test('the two differ by the rotor’s share in the entries that the lean’s acceleration enters, and by nothing else', () => {
    const entries = (kinetic: string) => new Plant(scout(kinetic)).linearised([0, 0, 0, 0]).A;
    // M = [J + Jw + r, Jw + s; Jw + s, Jw + n²·Jr]: reflected r = s = n²·Jr, full r = Jr, s = n·Jr.
    const by = (r: number, s: number): number[] => {
      const [J, Jw, n, Jr] = [0.031, 2.1e-3, 3, 6e-6];
      const [a, b, d] = [J + Jw + r, Jw + s, Jw + n * n * Jr];
      return [(1.8 * 9.81 * 0.11 * d) / (a * d - b * b)];
    };
    expectClose([entries(full)[1]?.[0] ?? 0], by(6e-6, 18e-6), 1e-12);
    expectClose([entries(reflected)[1]?.[0] ?? 0], by(54e-6, 54e-6), 1e-12);
  });
});
