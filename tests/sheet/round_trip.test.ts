/** Nothing is lost between a sheet and its file, and the same sheet always gives the same bytes. */

import fc from 'fast-check';
import { expect, test } from 'vitest';
import { loadSheet } from '../../compiler/sheet/load.ts';
import { saveSheet } from '../../compiler/sheet/save.ts';
import { blankSheet, type Sheet } from '../../compiler/sheet/sheet.ts';
import { anySheet } from './arbitrary.ts';

/** Turns the order of every record's keys round, which must change nothing. */
function turnedRound<T>(value: T): T {
  if (Array.isArray(value)) return value.map(turnedRound) as T;
  if (typeof value !== 'object' || value === null) return value;
  const turned = Object.entries(value)
    .reverse()
    .map(([key, inner]): [string, unknown] => [key, turnedRound(inner)]);
  return Object.fromEntries(turned) as T;
}

test('what is saved is loaded again as it was', () => {
  fc.assert(
    fc.property(anySheet, (sheet) => {
      const found = loadSheet(saveSheet(sheet));
      expect(found.findings).toEqual([]);
      expect(found.value).toEqual(sheet);
    }),
    { numRuns: 400 },
  );
});

test('saving what was loaded gives the same bytes, whatever order its keys had', () => {
  fc.assert(
    fc.property(anySheet, (sheet) => {
      const text = saveSheet(sheet);
      expect(saveSheet(loadSheet(text).value as Sheet)).toBe(text);
      expect(saveSheet(turnedRound(sheet))).toBe(text);
    }),
    { numRuns: 200 },
  );
});

test('a file with other spacing is the same sheet', () => {
  fc.assert(
    fc.property(anySheet, fc.constantFrom(0, 1, 4, '\t'), (sheet, indent) => {
      const plain = JSON.parse(saveSheet(sheet)) as unknown;
      expect(loadSheet(JSON.stringify(plain, null, indent).replaceAll('\n', '\r\n')).value).toEqual(
        JSON.parse(JSON.stringify(sheet)),
      );
    }),
    { numRuns: 100 },
  );
});

test('the canonical text has one block or wire a line, in the order of their names', () => {
  const sheet: Sheet = {
    ...blankSheet('Row scout'),
    blocks: {
      tilt: { set: { corner: '0.5 rad/s' }, is: 'complementary' },
      outer: { is: 'lead_lag', set: { gain: -5e-4, zero: '6 rad/s' }, every: 5 },
    },
    wires: { 'tilt.rate': 'imu.rate', 'tilt.angle': 'imu.tilt' },
    shelf: { mine: 'block mine\nout y: 1\n', law: { ports: { u: { in: 'rad' } }, blocks: {}, wires: {}, layout: {} } },
    runs: { push: { record: ['body.lean'], for: '10 s', nudges: { shove: { add: 2, port: 'body.push', at: '5 s' } } } },
    layout: { tilt: [300, 120], outer: { flip: true, at: [80, 240] } },
  };
  expect(saveSheet(sheet)).toBe(`{
  "loopwright": 1,
  "title": "Row scout",
  "tick": "5 ms",
  "number": "f32",
  "schedule": "single",
  "outputs": "at_once",
  "blocks": {
    "outer": { "is": "lead_lag", "every": 5, "set": { "gain": -0.0005, "zero": "6 rad/s" } },
    "tilt": { "is": "complementary", "set": { "corner": "0.5 rad/s" } }
  },
  "wires": {
    "tilt.angle": "imu.tilt",
    "tilt.rate": "imu.rate"
  },
  "shelf": {
    "law": {
      "ports": {
        "u": { "in": "rad" }
      },
      "blocks": {},
      "wires": {}
    },
    "mine": "block mine\\nout y: 1\\n"
  },
  "runs": {
    "push": {
      "for": "10 s",
      "record": ["body.lean"],
      "nudges": {
        "shove": { "at": "5 s", "port": "body.push", "add": 2 }
      }
    }
  },
  "layout": {
    "outer": { "at": [80, 240], "flip": true },
    "tilt": [300, 120]
  }
}
`);
});

test('minus zero, which JSON writers often lose, is kept', () => {
  const sheet: Sheet = { ...blankSheet(), blocks: { a: { is: 'gain', set: { gain: -0 } } } };
  const gain = loadSheet(saveSheet(sheet)).value?.blocks.a?.set?.gain;
  expect(Object.is(gain, -0)).toBe(true);
});

test('what a file leaves out is filled in', () => {
  const found = loadSheet('{ "loopwright": 1, "tick": 0.005 }');
  expect(found.value).toEqual({ ...blankSheet(), tick: 0.005 });
});
