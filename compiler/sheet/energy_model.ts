/** A mechanism by its energies, as a file NAME.motion.json holds it: what it is, and how its text is read. */

import { z } from 'zod';
import type { Finding, Found } from '../findings.ts';
import { isReserved, lineAndColumn, placeOf, readJson } from './json_places.ts';
import { schemaFaults } from './schema_faults.ts';

/** The longest file that is read, in UTF-16 units. */
export const MAX_MODEL_LENGTH = 200_000;

const quantityError = 'a finite number, or a text with a unit such as "20 g"';
const quantity = z.union([z.number({ error: quantityError }), z.string().min(1).max(200)], { error: quantityError });
const nameError = 'a name (a letter, then letters, digits or _) of at most 40 characters';
const name = z
  .string({ error: nameError })
  .max(40, { error: nameError })
  .regex(/^[A-Za-z][A-Za-z0-9_]*$/, { error: nameError })
  .refine((text) => !isReserved(text), { error: nameError });
const unit = z.string({ error: 'a unit, such as "rad"' }).max(60, { error: 'a unit of at most 60 characters' });
const words = z.string({ error: 'a text' }).max(400, { error: 'a text of at most 400 characters' });
const expression = z
  .string({ error: 'an expression of the block language' })
  .min(1, { error: 'an expression of the block language' })
  .max(20_000, { error: 'an expression of at most 20000 characters' });

function record<T extends z.ZodRawShape>(shape: T) {
  return z.strictObject(shape, {
    error: (issue) => (issue.code === 'unrecognized_keys' ? Object.keys(shape).join(' ') : 'a record { … }'),
  });
}

function list<T extends z.ZodType>(of: T, most: number) {
  return z
    .array(of, { error: 'an array' })
    .max(most, { error: `an array of at most ${most}` })
    .readonly();
}

const coordinate = record({
  name,
  unit,
  /** What its speed is called in the energies; `NAME_rate` if unsaid. */
  speed: name.exactOptional(),
  /** Where it stands at the start, and how fast; 0 if unsaid. */
  start: quantity.exactOptional(),
  start_speed: quantity.exactOptional(),
  words: words.exactOptional(),
}).readonly();

const parameter = record({
  name,
  /** Coherent SI, such as `kg m^2`; empty for a number. */
  unit,
  /** In that unit, or with a unit of its own. */
  value: quantity,
  /** It must be more than this, in SI. */
  above: z.number({ error: 'a finite number' }).exactOptional(),
  words: words.exactOptional(),
}).readonly();

const force = record({
  /** Of the block's input; several entries may share it, to act on several coordinates. */
  name,
  unit,
  /** The coordinate whose generalised force it enters. */
  on: name,
  /** How it enters, in the input, coordinates, speeds and parameters; the input itself if unsaid. */
  as: expression.exactOptional(),
  words: words.exactOptional(),
}).readonly();

const model = record({
  name,
  purpose: words.exactOptional(),
  source: words.exactOptional(),
  coordinates: list(coordinate, 50),
  parameters: list(parameter, 200),
  /** Joules, in coordinates, speeds, parameters and `t`. */
  kinetic: expression,
  /** Joules, in coordinates, parameters and `t`. */
  potential: expression,
  /** Watts: Rayleigh's function, half the power lost; its slope by a speed acts against that speed. */
  dissipation: expression.exactOptional(),
  forces: list(force, 50),
}).readonly();

export type EnergyModel = z.infer<typeof model>;

/** Reads the text of a model's file. Never throws, whatever the text; places carry line and column in the file. */
export function readEnergyModel(text: string): Found<EnergyModel> {
  const error = (id: string, start: number, path: readonly string[], facts: Finding['facts']): Finding => ({
    id,
    level: 'error',
    at: { path: path.join('.'), ...lineAndColumn(text, start) },
    facts,
  });
  if (text.length > MAX_MODEL_LENGTH) {
    const facts = { count: String(text.length), limit: String(MAX_MODEL_LENGTH) };
    return { value: undefined, findings: [error('motion_file_too_long', 0, [], facts)] };
  }
  const { root, faults } = readJson(text);
  const findings = faults.map((fault) => error(fault.id, fault.start, fault.path, fault.facts));
  if (root === undefined) return { value: undefined, findings };
  const read = model.safeParse(root.value);
  if (!read.success)
    for (const fault of schemaFaults(read.error, root.value)) {
      const finding = error(fault.id, placeOf(root, fault.place), fault.place, fault.facts);
      findings.push(fault.repair === undefined ? finding : { ...finding, repair: fault.repair });
    }
  return { value: findings.length === 0 ? read.data : undefined, findings };
}
