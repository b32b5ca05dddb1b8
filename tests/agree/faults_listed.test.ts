/** The faults of the long tier still fit the code: each text stands once in its file. */

import { readFileSync } from 'node:fs';
import { expect, test } from 'vitest';
import { faults } from '../long/faults.ts';

test('at least fifty still stand, each in one place', () => {
  const stands = faults.filter(
    ({ file, from, to }) => from !== to && readFileSync(file, 'utf8').split(from).length === 2,
  );
  for (const { file, from } of faults.filter((fault) => !stands.includes(fault)))
    console.warn(`${file} has changed, and a fault of the long tier with it: ${from}`);
  expect(stands.length).toBeGreaterThanOrEqual(50);
});
