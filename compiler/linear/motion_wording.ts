/** What the findings about a model of energies say. */

import type { Wording } from '../language/wording.ts';

type Facts = Readonly<Record<string, string>>;

const words = (brief: string, mend: string, help: string): Wording => ({ brief, full: `${brief}; ${mend}`, help });

const near = ({ nearest }: Facts, otherwise: string): string =>
  nearest === undefined || nearest === '' ? otherwise : `the nearest is ${nearest.split(', ').join(' or ')}`;

const INERTIA =
  'Accelerations are found from the mass matrix, the second slopes of the kinetic energy by the speeds. It must have an inverse: every speed, and every mixture of speeds, must carry kinetic energy.';

/** Finding id → its words, from the finding's facts. */
export const motionWording: Readonly<Record<string, (facts: Facts) => Wording>> = {
  motion_file_too_long: (f) =>
    words(
      `the file has ${f.count} characters, and a model at most ${f.limit}`,
      'check that it is the right one',
      'A model is two energies and a few names. The bound keeps a file from elsewhere from holding up the program.',
    ),
  motion_coordinate_count: (f) =>
    words(
      f.count === '0' ? 'the model has no coordinates' : `the model has ${f.count} coordinates`,
      `give it from 1 to ${f.most}; a larger machine is several blocks, joined by forces`,
      'Each coordinate adds a row to a matrix that is solved at every step of the simulation. Stiff springs between blocks are the usual way to part a long chain.',
    ),
  motion_name_taken: (f) =>
    words(
      `“${f.name}” stands for two things`,
      'give one of them another name',
      'Coordinates, speeds, parameters and forces share one set of names. A speed is called NAME_rate unless the model says otherwise.',
    ),
  motion_unknown_name: (f) =>
    words(
      `nothing here is called “${f.name}”`,
      near(
        f,
        f.known === undefined ? 'add it to the parameters, or check its spelling' : `the functions here are ${f.known}`,
      ),
      'An energy may use the coordinates, their speeds, the parameters, the time t and pi, and the smooth functions of the block language.',
    ),
  motion_not_fixed: (f) =>
    words(
      `“${f.name}” changes while the machine moves, and here something fixed is meant`,
      'use parameters and numbers',
      'Parameters and start values are settings of the block: they are known before anything moves.',
    ),
  motion_force_in_energy: (f) =>
    words(
      `“${f.name}” is a force from outside, and an energy depends on it`,
      `take it out of the energy, and say under forces how it acts: "as": "… ${f.name} …"`,
      'Its rate of change would be needed and is not known. What an input does is a generalised force: the work it does in a small step of a coordinate, over that step.',
    ),
  motion_speed_in_potential: (f) =>
    words(
      `the potential energy depends on the speed “${f.name}”`,
      'put what moves into the kinetic energy, and what is lost into the dissipation',
      'Potential energy is that of the place alone: weight and springs.',
    ),
  motion_force_on_nothing: (f) =>
    words(
      `there is no coordinate “${f.name}” to act on`,
      near(f, 'name one of the coordinates'),
      'A generalised force belongs to one coordinate. An input that acts on several has an entry for each.',
    ),
  motion_force_units: (f) =>
    words(
      `“${f.name}” is in “${f.first}” at first and in “${f.other}” here`,
      'give it one unit, and say in "as" how it acts',
      'Entries of one name are one input of the block.',
    ),
  motion_unit_not_si: (f) =>
    words(
      `“${f.unit}” is not a coherent SI unit`,
      `declare it in ${f.meant}; a value may have any unit that fits`,
      'Equations are in SI, so that no factor hides in them. Values may still be written as 20 g or 5 deg.',
    ),
  motion_unit_mismatch: (f) =>
    words(
      f.what === 'whole'
        ? `this is in ${f.right}, and ${f.left} is wanted`
        : `${f.left} and ${f.right} stand together here`,
      'look for a missing factor, or a power too many',
      'Energies are in joules, the dissipation in watts, and a generalised force times its coordinate is in joules.',
    ),
  motion_not_smooth: (f) =>
    words(
      `“${f.what}” has no slope that could be used here`,
      'write it with + - * / ^, sin cos tan asin acos atan exp log sqrt abs pow and hypot; what switches belongs into a force',
      'Equations of motion are made of slopes of the energies. A generalised force is not differentiated, so it may use sign, min, max and choices.',
    ),
  motion_too_large: (f) =>
    words(
      `multiplied out, this has more than ${f.what} terms`,
      'choose coordinates in which it is simpler, or part the machine into several blocks',
      'The equations are collected term by term. The bound keeps a model from elsewhere from holding up the program.',
    ),
  motion_division_by_zero: () =>
    words(
      'something is divided by what is always 0',
      'mend the divisor',
      'What stands under the fraction cancels out, whatever the coordinates are.',
    ),
  motion_without_inertia: (f) =>
    words(
      `nothing has kinetic energy by moving along “${f.name}” alone`,
      f.used === 'yes'
        ? `its speed “${f.speed}” must stand squared in the kinetic energy`
        : `use its speed “${f.speed}” in the kinetic energy, or leave the coordinate out`,
      INERTIA,
    ),
  motion_mass_singular: (f) =>
    words(
      `the accelerations cannot be solved for ${f.where}`,
      f.where === 'everywhere'
        ? 'look for two coordinates that only ever move the same thing, or for a mass that is missing'
        : 'start elsewhere, or choose coordinates without such a point; check that no mass is 0',
      INERTIA,
    ),
  motion_not_above: (f) =>
    words(
      `“${f.name}” must be above ${f.above}, and its value is not`,
      'give it a larger value, or lower the bound',
      'The bound becomes that of the block’s setting, and a default must keep it.',
    ),
  motion_no_value: (f) =>
    words(
      `“${f.name}” has no value of its own`,
      'give it a number; values may use each other, but not in a circle',
      'The values are the defaults of the block’s settings.',
    ),
};
