/** What a sheet's file may hold, as a schema: the JSON Schema beside it is derived from this one. */

import { z } from 'zod';
import { isReserved } from './json_places.ts';
import { SHEET_VERSION, type Sheet } from './sheet.ts';

/** The most blocks and wires one sheet may hold, its groups included. */
export const MAX_BLOCKS = 20_000;
export const MAX_WIRES = 60_000;

// Every schema's error is what it wants, as a noun phrase; a record's own error lists the keys it knows.
// `schema_faults.ts` reads both.

const NAME = '[A-Za-z][A-Za-z0-9_]*';
const ELEMENT = '\\[\\d+(, ?\\d+)?\\]';

function text(longest: number) {
  return z.string({ error: 'a text' }).max(longest, { error: `a text of at most ${longest} characters` });
}

/** References are looked up in records, so they must not reach into JavaScript's own objects. */
function reference(pattern: string, longest: number, wanted: string) {
  const error = `${wanted} of at most ${longest} characters`;
  return z
    .string({ error })
    .max(longest, { error })
    .regex(new RegExp(`^${pattern}$`), { error })
    .refine((reference) => !reference.split(/[.[]/).some(isReserved), { error });
}

function whole(least: number, most: number) {
  const error = `a whole number from ${least} to ${most}`;
  return z.int({ error }).min(least, { error }).max(most, { error });
}

function list<T extends z.ZodType>(of: T, most: number) {
  return z.array(of, { error: 'an array' }).max(most, { error: `an array of at most ${most}` });
}

function oneOf<const T extends readonly string[]>(...words: T) {
  return z.enum(words, { error: words.map((word) => `"${word}"`).join(' or ') });
}

function record<T extends z.ZodRawShape>(shape: T) {
  return z.strictObject(shape, {
    error: (issue) => (issue.code === 'unrecognized_keys' ? Object.keys(shape).join(' ') : 'a record { … }'),
  });
}

function named<T extends z.ZodType>(key: z.ZodString, value: T) {
  return z.record(key, value, { error: 'a record { … }' });
}

const name = reference(NAME, 64, 'a name (a letter, then letters, digits or _)');
const path = reference(`${NAME}(\\.${NAME})*`, 400, 'names joined by dots, such as tilt.corner,');
const port = reference(`${NAME}(\\.${NAME})*(${ELEMENT})?`, 400, 'a port, such as tilt.angle,');
const words = text(2_000);
const real = z.number({ error: 'a finite number' });
const yesNo = z.boolean({ error: 'true or false' });
const quantity = z.union([real, z.string().min(1).max(2_000)], {
  error: 'a finite number, or a text with a unit such as "5 ms"',
});
const pointError = 'a point [x, y]';
const point = z.tuple([real, real], { error: pointError });

const scalar = z.union([quantity, yesNo], { error: 'a finite number, a text, or true or false' });
const setting = z.union([quantity, yesNo, list(z.union([scalar, list(scalar, 10_000)]), 10_000)], {
  error: 'a finite number, a text, true or false, or an array of those',
});

const block = record({
  is: name,
  set: named(path, setting).exactOptional(),
  every: whole(1, 1_000_000_000).exactOptional(),
  phase: whole(0, 1_000_000_000).exactOptional(),
  when: port.exactOptional(),
  side: oneOf('plant', 'controller').exactOptional(),
  inputs: named(name, text(64)).exactOptional(),
});

const spot = z.union([point, record({ at: point, flip: yesNo.exactOptional() })], {
  error: `${pointError}, or { "at": [x, y], "flip": true }`,
});

const portType = text(200);
const groupPort = z.union([record({ in: portType }), record({ out: portType })], {
  error: 'a port { "in": unit } or { "out": unit }',
});

const blocks = named(name, block).default({});
const wires = named(port, port).default({});
const layout = named(name, spot).default({});

const group = record({
  about: words.exactOptional(),
  ports: named(name, groupPort).default({}),
  blocks,
  wires,
  layout,
});

const nudge = z.union(
  [
    record({ at: quantity, for: quantity.exactOptional(), port, add: quantity }),
    record({ at: quantity, for: quantity.exactOptional(), port, to: z.union([quantity, yesNo]) }),
    record({ at: quantity, setting: path, to: setting }),
  ],
  { error: 'a nudge: { "at", "port", "add" or "to" }, or { "at", "setting", "to" }' },
);

const run = record({
  for: quantity.exactOptional(),
  seed: whole(0, 4_294_967_295).exactOptional(),
  set: named(path, setting).exactOptional(),
  record: list(port, 10_000).exactOptional(),
  nudges: named(name, nudge).exactOptional(),
  expect: named(name, words).exactOptional(),
});

const chart = record({
  traces: list(port, 1_000),
  title: words.exactOptional(),
  order: real.exactOptional(),
  height: real.exactOptional(),
  low: real.exactOptional(),
  high: real.exactOptional(),
});

const desk = record({
  show: named(port, text(200)).default({}),
  pins: named(port, record({ at: point.exactOptional(), trace: whole(0, 1_000).exactOptional() })).default({}),
  charts: named(name, chart).default({}),
  frames: named(
    name,
    record({ at: point, size: point, title: words.exactOptional(), in: name.exactOptional() }),
  ).default({}),
  notes: named(
    name,
    record({ at: point, size: point.exactOptional(), text: text(20_000), in: name.exactOptional() }),
  ).default({}),
  lines: named(port, list(z.tuple([point, point], { error: 'a segment [[x, y], [x, y]]' }), 1_000)).default({}),
  taps: named(port, record({ label: words.exactOptional() })).default({}),
});

/** The whole file; what it leaves out is filled in. */
export const sheetSchema = record({
  loopwright: z.literal(SHEET_VERSION),
  title: words.default(''),
  tick: quantity,
  number: oneOf('f32', 'f64').default('f32'),
  schedule: oneOf('single', 'layered').default('single'),
  overrun: oneOf('skip', 'trip').default('skip'),
  outputs: oneOf('at_once', 'next_tick').default('at_once'),
  plant_steps: whole(1, 1_000).default(1),
  names: named(name, quantity).default({}),
  blocks,
  wires,
  shelf: named(name, z.union([text(200_000), group], { error: "a block's text, or a group" })).default({}),
  runs: named(name, run).default({}),
  desk: desk.default({ show: {}, pins: {}, charts: {}, frames: {}, notes: {}, lines: {}, taps: {} }),
  silenced: named(z.string().min(1).max(500), words).default({}),
  checked: named(
    path,
    record({
      result: z.union([real, words, yesNo], { error: 'a number, a text, or true or false' }),
      hash: text(200),
    }),
  ).default({}),
  versions: named(name, text(200)).default({}),
  layout,
}).meta({ title: 'A Loopwright sheet' });

/** The schema for editors and other programs: draft 2020-12. */
export function jsonSchema(): unknown {
  return z.toJSONSchema(sheetSchema, { io: 'input' });
}

/** Fails to compile when the schema and the types part ways. */
type Makes<T extends Sheet> = T;
export type SheetInSchema = Makes<z.output<typeof sheetSchema>>;
