/** Mechanisms whose equations of motion are published, by their energies. */

import type { EnergyModel } from '../../../compiler/sheet/energy_model.ts';
import { gravity } from './plant.ts';

/** The angle is from hanging down; the bar's inertia is about its own centre. */
export const pendulumOnCart: EnergyModel = {
  name: 'pendulum_on_cart',
  coordinates: [
    { name: 'x', unit: 'm', speed: 'v' },
    { name: 'theta', unit: 'rad', start: 2, words: 'from hanging down' },
  ],
  parameters: [
    { name: 'M', unit: 'kg', value: 0.5, above: 0 },
    { name: 'm', unit: 'kg', value: '200 g', above: 0 },
    { name: 'l', unit: 'm', value: 0.3 },
    { name: 'J', unit: 'kg m^2', value: 0.006 },
    { name: 'b', unit: 'N s/m', value: 0.1 },
    gravity,
  ],
  kinetic:
    'M / 2 * v^2 + m / 2 * ((v + l * theta_rate * cos(theta))^2 + (l * theta_rate * sin(theta))^2) + J / 2 * theta_rate^2',
  potential: '-m * g * l * cos(theta)',
  dissipation: 'b / 2 * v^2',
  forces: [{ name: 'F', unit: 'N', on: 'x' }],
};

/** The first angle from upright, the wheel's seen from the body. */
export const reactionWheelPendulum: EnergyModel = {
  name: 'reaction_wheel_pendulum',
  coordinates: [
    { name: 'theta1', unit: 'rad', speed: 'w1', start: 0.3 },
    { name: 'theta2', unit: 'rad', speed: 'w2' },
  ],
  parameters: [
    { name: 'm1', unit: 'kg', value: 0.2 },
    { name: 'm2', unit: 'kg', value: 0.3 },
    { name: 'lc1', unit: 'm', value: 0.06 },
    { name: 'l1', unit: 'm', value: 0.12 },
    { name: 'I1', unit: 'kg m^2', value: 5e-4 },
    { name: 'I2', unit: 'kg m^2', value: 3e-4 },
    gravity,
  ],
  kinetic: '0.5 * m1 * (lc1 * w1)^2 + 0.5 * m2 * (l1 * w1)^2 + 0.5 * I1 * w1^2 + 0.5 * I2 * (w1 + w2)^2',
  potential: 'm1 * g * lc1 * cos(theta1) + m2 * g * l1 * cos(theta1)',
  forces: [{ name: 'tau', unit: 'N m', on: 'theta2' }],
};

/** Both angles from hanging down. */
export const doublePendulum: EnergyModel = {
  name: 'double_pendulum',
  coordinates: [
    { name: 'theta1', unit: 'rad', speed: 'w1', start: 2 },
    { name: 'theta2', unit: 'rad', speed: 'w2', start: 1 },
  ],
  parameters: [
    { name: 'm1', unit: 'kg', value: 1.3 },
    { name: 'm2', unit: 'kg', value: 0.7 },
    { name: 'l1', unit: 'm', value: 0.9 },
    { name: 'l2', unit: 'm', value: 0.6 },
    gravity,
  ],
  kinetic: [
    'm1 / 2 * ((l1 * w1 * cos(theta1))^2 + (l1 * w1 * sin(theta1))^2)',
    'm2 / 2 * ((l1 * w1 * cos(theta1) + l2 * w2 * cos(theta2))^2 + (l1 * w1 * sin(theta1) + l2 * w2 * sin(theta2))^2)',
  ].join(' + '),
  potential: '-m1 * g * l1 * cos(theta1) - m2 * g * (l1 * cos(theta1) + l2 * cos(theta2))',
  forces: [],
};
