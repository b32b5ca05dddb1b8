/** Derived plants on the bench: what mechanics says is kept is kept, and energies of unusual form move as published. */

import { describe, expect, test } from 'vitest';
import { library } from '../../../blocks/library.ts';
import { compile } from '../../../compiler/compile.ts';
import { valueAt } from '../../../compiler/linear/motion.ts';
import { plantBlock } from '../../../compiler/linear/motion_block.ts';
import { sumOf } from '../../../compiler/linear/motion_calculus.ts';
import type { EnergyModel } from '../../../compiler/sheet/energy_model.ts';
import { openBench } from '../../../runtime/bench/bench.ts';
import { doublePendulum, pendulumOnCart, reactionWheelPendulum } from './models.ts';
import { derived, expectClose, gravity, Plant, sheetOf } from './plant.ts';

const sphericalPendulum: EnergyModel = {
  name: 'spherical_pendulum',
  coordinates: [
    { name: 'theta', unit: 'rad', start: 1 },
    { name: 'phi', unit: 'rad', start_speed: 2 },
  ],
  parameters: [{ name: 'm', unit: 'kg', value: 0.4 }, { name: 'l', unit: 'm', value: 0.8 }, gravity],
  kinetic: 'm / 2 * l^2 * (theta_rate^2 + (sin(theta) * phi_rate)^2)',
  potential: '-m * g * l * cos(theta)',
  forces: [],
};

const springPendulum: EnergyModel = {
  name: 'spring_pendulum',
  coordinates: [
    { name: 'x', unit: 'm', start: 0.4 },
    { name: 'y', unit: 'm', start: -0.8 },
    { name: 'turned', unit: 'rad', start_speed: 1 },
  ],
  parameters: [
    { name: 'm', unit: 'kg', value: 0.4 },
    { name: 'k', unit: 'N/m', value: 30 },
    { name: 'a', unit: 'm', value: 0.7 },
    gravity,
  ],
  kinetic: 'm / 2 * (x_rate^2 + y_rate^2 + 0.05 m^2 * (turned_rate + x_rate / a)^2)',
  potential: 'k / 2 * (hypot(x, y) - a)^2 + m * g * y + 0.2 J * exp(-turned^2)',
  forces: [],
};

/** T + V along a run without forces and losses, at every tenth of a second. */
async function energies(model: EnergyModel, set: Readonly<Record<string, number>>): Promise<number[]> {
  const equations = derived(model);
  const sheet = { ...sheetOf(model, plantBlock(equations), set), tick: 0.001, plant_steps: 4 };
  const { value } = compile(sheet, { library });
  if (value === undefined) throw new Error(model.name);
  const names = equations.model.coordinates.flatMap(({ name, speed }) => [name, speed]);
  const bench = await openBench(value, { engine: 'wasm', record: names.map((name) => `it.${name}`) }, []);
  const total = [equations.model.kinetic, equations.model.potential].map((e) => sumOf(e));
  const values = new Map<string, number>();
  for (const { name, value } of equations.model.parameters)
    values.set(name, set[name] ?? valueAt(sumOf(value), values));
  const found: number[] = [];
  for (let i = 0; i < 100; i++) {
    const rows = bench.advance(100);
    for (const [k, name] of names.entries()) values.set(name, rows[rows.length - names.length + k] ?? Number.NaN);
    found.push(total.reduce((sum, energy) => sum + valueAt(energy, values), 0));
  }
  return found;
}

describe('energy is kept for ten seconds without forces', () => {
  const cases: readonly (readonly [EnergyModel, Readonly<Record<string, number>>])[] = [
    [pendulumOnCart, { b: 0 }],
    [reactionWheelPendulum, {}],
    [doublePendulum, {}],
    [sphericalPendulum, {}],
    [springPendulum, {}],
  ];
  test.each(cases)('$name', async (model, set) => {
    const found = await energies(model, set);
    const [first = Number.NaN] = found;
    for (const energy of found) expect(Math.abs(energy - first)).toBeLessThan(1e-8 * Math.max(1, Math.abs(first)));
  });

  test('and lost with losses', async () => {
    const found = await energies(pendulumOnCart, {});
    for (const [i, energy] of found.entries()) if (i > 0) expect(energy).toBeLessThan((found[i - 1] ?? 0) + 1e-9);
  });
});

describe('energies of unusual form', () => {
  test('time in the kinetic energy: a pendulum whose support swings sideways', () => {
    // L. D. Landau, E. M. Lifshitz, Mechanics, § 5, problem 3b, from memory: support at a·cos γt.
    const driven: EnergyModel = {
      name: 'driven_pendulum',
      coordinates: [{ name: 'phi', unit: 'rad', speed: 'w' }],
      parameters: [
        { name: 'm', unit: 'kg', value: 0.4 },
        { name: 'l', unit: 'm', value: 0.8 },
        { name: 'a', unit: 'm', value: 0.1 },
        { name: 'gamma', unit: 'rad/s', value: 3 },
        gravity,
      ],
      kinetic: 'm / 2 * ((l * w * cos(phi) - a * gamma * sin(gamma * t))^2 + (l * w * sin(phi))^2)',
      potential: '-m * g * l * cos(phi)',
      forces: [],
    };
    const plant = new Plant(driven);
    expect(plant.text).toContain('m11 = m * l^2\n');
    for (const [phi, w, t] of [
      [0.3, 1, 0.2],
      [-2, 4, 1.7],
      [3, -3, 12.3],
    ] as const) {
      const want = (0.1 * 9 * Math.cos(3 * t) * Math.cos(phi) - 9.81 * Math.sin(phi)) / 0.8;
      expectClose(plant.flow([phi, w], {}, t), [w, want], 1e-12);
    }
  });

  test('not quadratic in the speed: a particle near the speed of light has the longitudinal mass γ³·m', () => {
    // H. Goldstein, Classical Mechanics, ch. 7, from memory: L = −m·c²·√(1 − v²/c²).
    const particle: EnergyModel = {
      name: 'particle',
      coordinates: [{ name: 'x', unit: 'm', speed: 'v' }],
      parameters: [
        { name: 'm', unit: 'kg', value: 2 },
        { name: 'c', unit: 'm/s', value: 10 },
      ],
      kinetic: '-m * c^2 * sqrt(1 - v^2 / c^2)',
      potential: '0 J',
      forces: [{ name: 'F', unit: 'N', on: 'x' }],
    };
    const plant = new Plant(particle);
    for (const v of [0, 3, -8, 9.5]) {
      const mass = 2 * (1 - (v / 10) ** 2) ** -1.5;
      expectClose(plant.flow([0, v], { F: 3 }), [v, 3 / mass], 1e-12);
    }
  });

  test('dry friction as a dissipation has no jump to not-a-number at rest', () => {
    const slider: EnergyModel = {
      name: 'slider',
      coordinates: [{ name: 'x', unit: 'm', speed: 'v' }],
      parameters: [
        { name: 'm', unit: 'kg', value: 2 },
        { name: 'dry', unit: 'N', value: 3 },
      ],
      kinetic: 'm * v^2 / 2',
      potential: '0',
      dissipation: 'dry * abs(v)',
      forces: [],
    };
    const plant = new Plant(slider);
    for (const v of [-1, 0, 1]) expectClose(plant.flow([0, v]), [v, -1.5 * v], 0);
  });
});
