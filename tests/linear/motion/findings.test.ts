/** What is wrong with a model is said, with its place and its mending; nothing is derived then. */

import { describe, expect, test } from 'vitest';
import { placeText } from '../../../compiler/findings.ts';
import { equationsOfMotion } from '../../../compiler/linear/motion.ts';
import { motionWording } from '../../../compiler/linear/motion_wording.ts';
import { type EnergyModel, MAX_MODEL_LENGTH, readEnergyModel } from '../../../compiler/sheet/energy_model.ts';
import { sentence } from '../../../compiler/wording.ts';

const base: EnergyModel = {
  name: 'pendulum',
  coordinates: [{ name: 'theta', unit: 'rad', speed: 'w' }],
  parameters: [
    { name: 'm', unit: 'kg', value: 0.4 },
    { name: 'l', unit: 'm', value: 0.8 },
    { name: 'g', unit: 'm/s^2', value: 9.81 },
  ],
  kinetic: 'm * (l * w)^2 / 2',
  potential: '-m * g * l * cos(theta)',
  forces: [{ name: 'tau', unit: 'N m', on: 'theta' }],
};
const [theta] = base.coordinates;
const two = (kinetic: string, start = 0): Partial<EnergyModel> => ({
  coordinates: [
    { name: 'x', unit: 'm', speed: 'v', start },
    { name: 'theta', unit: 'rad', speed: 'w' },
  ],
  kinetic,
});

interface Case {
  readonly id: string;
  /** Where it is said to be. */
  readonly at: string;
  readonly change: Partial<EnergyModel>;
  readonly says: RegExp;
}

const cases: readonly Case[] = [
  {
    id: 'motion_coordinate_count',
    at: 'coordinates',
    change: { coordinates: Array.from({ length: 7 }, (_, i) => ({ name: `q${i}`, unit: 'm' })) },
    says: /7 coordinates; give it from 1 to 6/,
  },
  { id: 'motion_coordinate_count', at: 'coordinates', change: { coordinates: [] }, says: /no coordinates/ },
  {
    id: 'motion_name_taken',
    at: 'coordinates.1',
    change: { coordinates: theta === undefined ? [] : [theta, theta] },
    says: /“theta” stands for two things/,
  },
  {
    id: 'reserved_name',
    at: 'parameters.0',
    change: { parameters: [{ name: 'dt', unit: 's', value: 1 }] },
    says: /dt/,
  },
  { id: 'reserved_name', at: 'name', change: { name: 'tick' }, says: /tick/ },
  {
    id: 'motion_unknown_name',
    at: 'kinetic, line 1, column 11',
    change: { kinetic: 'm * l^2 * mass * w^2 / 2' },
    says: /nothing here is called “mass”/,
  },
  {
    id: 'motion_unknown_name',
    at: 'potential, line 1, column 14',
    change: { potential: '-m * g * l * sine(theta)' },
    says: /“sine”; the nearest is sin/,
  },
  {
    id: 'motion_unknown_name',
    at: 'potential, line 1, column 18',
    change: { potential: '-m * g * l * cos(thetta)' },
    says: /the nearest is theta/,
  },
  {
    id: 'motion_not_fixed',
    at: 'coordinates.0.start, line 1, column 5',
    change: { coordinates: [{ name: 'theta', unit: 'rad', speed: 'w', start: '2 * theta' }] },
    says: /“theta” changes while/,
  },
  {
    id: 'motion_unknown_name',
    at: 'potential, line 1, column 1',
    change: { potential: 'heaviside(theta) * 1 J' },
    says: /functions here are sin, cos/,
  },
  {
    id: 'motion_force_in_energy',
    at: 'potential, line 1, column 1',
    change: { potential: 'tau * theta' },
    says: /say under forces how it acts/,
  },
  {
    id: 'motion_speed_in_potential',
    at: 'potential, line 1, column 13',
    change: { potential: 'm * g * l * w * 1 s' },
    says: /depends on the speed “w”/,
  },
  {
    id: 'motion_force_on_nothing',
    at: 'forces.0.on',
    change: { forces: [{ name: 'tau', unit: 'N m', on: 'tetha' }] },
    says: /no coordinate “tetha” to act on; the nearest is theta/,
  },
  {
    id: 'motion_force_units',
    at: 'forces.1',
    change: {
      forces: [
        { name: 'tau', unit: 'N m', on: 'theta' },
        { name: 'tau', unit: 'N', on: 'theta' },
      ],
    },
    says: /in “N m” at first and in “N” here/,
  },
  {
    id: 'motion_unit_not_si',
    at: 'coordinates.0.unit',
    change: { coordinates: [{ name: 'theta', unit: 'deg', speed: 'w' }] },
    says: /“deg” is not a coherent SI unit/,
  },
  {
    id: 'unknown_unit',
    at: 'parameters.0.unit, line 1, column 1',
    change: { parameters: [{ name: 'm', unit: 'kilo', value: 1 }] },
    says: /kilo/,
  },
  {
    id: 'motion_unit_mismatch',
    at: 'kinetic, line 1, column 1',
    change: { kinetic: 'm * l * w^2 / 2' },
    says: /J is wanted/,
  },
  {
    id: 'motion_unit_mismatch',
    at: 'potential, line 1, column 12',
    change: { potential: 'm * g * (l + theta)' },
    says: /m and 1 stand together/,
  },
  {
    id: 'motion_unit_mismatch',
    at: 'dissipation, line 1, column 1',
    change: { dissipation: '0.1 N m s/rad * w' },
    says: /W is wanted/,
  },
  {
    id: 'motion_unit_mismatch',
    at: 'forces.0.unit, line 1, column 1',
    change: { forces: [{ name: 'tau', unit: 'N', on: 'theta' }] },
    says: /this is in N, and N m is wanted/,
  },
  {
    id: 'motion_unit_mismatch',
    at: 'parameters.2.value, line 1, column 1',
    change: { parameters: [...base.parameters.slice(0, 2), { name: 'g', unit: 'm/s^2', value: '9.81 m/s' }] },
    says: /m\/s, and m\/s\^2 is wanted/,
  },
  { id: 'undeclared_unit_letter', at: 'potential, line 1, column 1', change: { potential: '3 U' }, says: /U/ },
  {
    id: 'motion_not_smooth',
    at: 'potential',
    change: { potential: 'max(theta, 0) * 1 J' },
    says: /“max\(…\)” has no slope/,
  },
  {
    id: 'motion_not_smooth',
    at: 'potential',
    change: { potential: 'theta > 0 ? 1 J : 0 J' },
    says: /has no slope.*what switches belongs into a force/,
  },
  {
    id: 'motion_not_smooth',
    at: 'forces.0.as, line 1, column 1',
    change: { forces: [{ name: 'tau', unit: 'N m', on: 'theta', as: '[tau, tau]' }] },
    says: /\[tau, tau\]/,
  },
  {
    id: 'wrong_argument_count',
    at: 'potential, line 1, column 1',
    change: { potential: 'sin(theta, theta) * 1 J' },
    says: /sin is given 2 values/,
  },
  {
    id: 'motion_too_large',
    at: 'potential',
    change: { potential: '(1 + theta + sin(theta) + exp(theta) + cos(theta) + atan(theta) + m / 1 kg)^12 * 1 J' },
    says: /more than 2000 terms/,
  },
  {
    id: 'motion_division_by_zero',
    at: 'potential',
    change: { potential: '1 J / (theta - theta)' },
    says: /always 0/,
  },
  {
    id: 'motion_without_inertia',
    at: 'kinetic',
    change: two('m * v^2 / 2'),
    says: /moving along “theta” alone; use its speed “w”/,
  },
  {
    id: 'motion_without_inertia',
    at: 'kinetic',
    change: two('m * v^2 / 2 + m * l^2 * w * 1 rad/s'),
    says: /“w” must stand squared/,
  },
  {
    id: 'motion_mass_singular',
    at: 'kinetic',
    change: two('m * (v + l * w)^2 / 2'),
    says: /everywhere; look for two coordinates/,
  },
  {
    id: 'motion_mass_singular',
    at: 'kinetic',
    change: two('m * (v^2 + (x * w)^2) / 2'),
    says: /at the start; start elsewhere/,
  },
  {
    id: 'motion_not_above',
    at: 'parameters.0',
    change: { parameters: [{ name: 'm', unit: 'kg', value: '20 g', above: 0.02 }, ...base.parameters.slice(1)] },
    says: /“m” must be above 0.02/,
  },
  {
    id: 'motion_no_value',
    at: 'parameters',
    change: {
      parameters: [
        { name: 'm', unit: 'kg', value: '2 * k' },
        { name: 'k', unit: 'kg', value: 'm / 2' },
        ...base.parameters.slice(1),
      ],
    },
    says: /“m” has no value of its own/,
  },
  {
    id: 'unexpected',
    at: 'kinetic, line 1, column 5',
    change: { kinetic: 'm * * w' },
    says: /expected/,
  },
];

describe('findings', () => {
  test('the model they start from has none', () => {
    expect(equationsOfMotion(base).findings).toEqual([]);
  });

  test.each(cases)('$id at $at', ({ id, at, change, says }) => {
    const { value, findings } = equationsOfMotion({ ...base, ...change });
    expect(value).toBeUndefined();
    expect(findings.map((finding) => [finding.id, placeText(finding.at)])).toContainEqual([id, at]);
    const found = findings.find((finding) => finding.id === id);
    if (found !== undefined) expect(sentence(found).full).toMatch(says);
    for (const finding of findings) expect(sentence(finding).full).not.toMatch(/undefined|^\w+_\w+ \{/);
  });

  test('a radius that starts away from the pole is no trouble', () => {
    expect(equationsOfMotion({ ...base, ...two('m * (v^2 + (x * w)^2) / 2', 1) }).findings).toEqual([]);
  });

  test('every worded id is found here', () => {
    const found = new Set([...cases.map(({ id }) => id), 'motion_file_too_long']);
    expect(Object.keys(motionWording).filter((id) => !found.has(id))).toEqual([]);
  });
});

describe('a model’s file', () => {
  const write = (change: object): string => JSON.stringify({ ...base, ...change }, undefined, 2);
  const ids = (text: string) => readEnergyModel(text).findings.map(({ id, at }) => `${id} ${placeText(at)}`);

  test('is read as it was written', () => {
    expect(readEnergyModel(write({}))).toEqual({ value: base, findings: [] });
  });

  test('says what is wrong with it, and where', () => {
    expect(ids(write({ kinetik: 'm' }))).toEqual(['unknown_key kinetik, line 36, column 3']);
    expect(ids(write({ potential: undefined }))).toEqual([expect.stringMatching(/^missing_key line 1, column 1/)]);
    expect(ids(write({ coordinates: [{ name: '2x', unit: 'm' }] }))).toEqual([
      expect.stringMatching(/^wrong_value coordinates\.0\.name, line 5/),
    ]);
    expect(ids('{ "name": "a", }')).toEqual([expect.stringMatching(/^sheet_not_json/)]);
    expect(ids(' '.repeat(MAX_MODEL_LENGTH + 1))).toEqual(['motion_file_too_long line 1, column 1']);
  });
});
