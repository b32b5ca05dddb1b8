/** Makes random sheets of every form the format allows, for the tests that load, save, edit and damage them. */

import fc from 'fast-check';
import { isReserved } from '../../compiler/sheet/json_places.ts';
import type { BlockOnSheet, Desk, Group, Named, Nudge, Run, Sheet } from '../../compiler/sheet/sheet.ts';

const name = fc.stringMatching(/^[A-Za-z][A-Za-z0-9_]{0,9}$/).filter((text) => !isReserved(text));
const path = fc.array(name, { minLength: 1, maxLength: 3 }).map((names) => names.join('.'));
const port = fc
  .tuple(path, fc.constantFrom('', '[1]', '[2, 3]', '[2,3]'))
  .map(([names, element]) => `${names}${element}`);
const words = fc.string({ unit: 'binary', maxLength: 30 });
const real = fc.double({ noNaN: true, noDefaultInfinity: true });
const quantity = fc.oneof(
  real,
  fc.constantFrom('5 ms', '2 * stiffness', '-3 deg'),
  words.filter((text) => text !== ''),
);
const scalar = fc.oneof(quantity, fc.boolean());
const setting = fc.oneof(scalar, fc.array(fc.oneof(scalar, fc.array(scalar, { maxLength: 3 })), { maxLength: 3 }));
const point = fc.tuple(real, real);

/** A record of optional keys with what is absent left out, as the types want it. */
function record<T extends object>(fields: { readonly [K in keyof T]: fc.Arbitrary<T[K]> }, required: (keyof T)[]) {
  return fc.record(fields as { [K in keyof T]: fc.Arbitrary<T[K]> }, {
    requiredKeys: required as never[],
  }) as unknown as fc.Arbitrary<T>;
}

function named<T>(value: fc.Arbitrary<T>, key = name): fc.Arbitrary<Named<T>> {
  return fc.dictionary(key, value, { maxKeys: 4, noNullPrototype: true });
}

const block = record<Required<BlockOnSheet>>(
  {
    is: name,
    set: named(setting, path),
    every: fc.integer({ min: 1, max: 1e9 }),
    phase: fc.integer({ min: 0, max: 1e9 }),
    when: port,
    side: fc.constantFrom('plant' as const, 'controller' as const),
    inputs: named(fc.constantFrom('+', '-', '*', '')),
  },
  ['is'],
);

const layout = named(fc.oneof(point, fc.record({ at: point, flip: fc.boolean() }), fc.record({ at: point })));

const group: fc.Arbitrary<Group> = record<Required<Group>>(
  {
    about: words,
    ports: named(fc.oneof(fc.record({ in: words }), fc.record({ out: words }))),
    blocks: named(block),
    wires: named(port, port),
    layout,
  },
  ['ports', 'blocks', 'wires', 'layout'],
);

const nudge: fc.Arbitrary<Nudge> = fc.oneof(
  fc.record({ at: quantity, port, add: quantity }),
  fc.record({ at: quantity, for: quantity, port, to: fc.oneof(quantity, fc.constantFrom('nan', 'held', true)) }),
  fc.record({ at: quantity, setting: path, to: setting }),
);

const run = record<Required<Run>>(
  {
    for: quantity,
    seed: fc.integer({ min: 0, max: 4_294_967_295 }),
    set: named(setting, path),
    record: fc.array(port, { maxLength: 4 }),
    nudges: named(nudge),
    expect: named(words),
  },
  [],
);

const desk: fc.Arbitrary<Desk> = fc.record({
  show: named(words, port),
  pins: named(record<{ at: [number, number]; trace: number }>({ at: point, trace: fc.nat(9) }, []), port),
  charts: named(
    record<{ traces: string[]; title: string; order: number; height: number; low: number; high: number }>(
      { traces: fc.array(port, { maxLength: 3 }), title: words, order: real, height: real, low: real, high: real },
      ['traces'],
    ),
  ),
  frames: named(fc.record({ at: point, size: point, title: words, in: name })),
  notes: named(fc.record({ at: point, text: words })),
  lines: named(fc.array(fc.tuple(point, point), { maxLength: 2 }), port),
  taps: named(record<{ label: string }>({ label: words }, []), port),
});

/** Any sheet. */
export const anySheet: fc.Arbitrary<Sheet> = fc.record({
  loopwright: fc.constant(1 as const),
  title: words,
  tick: quantity,
  number: fc.constantFrom('f32' as const, 'f64' as const),
  schedule: fc.constantFrom('single' as const, 'layered' as const),
  overrun: fc.constantFrom('skip' as const, 'trip' as const),
  outputs: fc.constantFrom('at_once' as const, 'next_tick' as const),
  plant_steps: fc.integer({ min: 1, max: 1_000 }),
  names: named(quantity),
  blocks: named(block),
  wires: named(port, port),
  shelf: named(fc.oneof(words, group)),
  runs: named(run),
  desk,
  silenced: named(
    words,
    words.filter((text) => text !== '' && !isReserved(text)),
  ),
  checked: named(fc.record({ result: fc.oneof(real, words, fc.boolean()), hash: words }), path),
  versions: named(words),
  layout,
});
