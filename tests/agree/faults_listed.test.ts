/** The faults of the long tier still fit the code: each text stands once in its file. */

import { readFileSync } from 'node:fs';
import { expect, test } from 'vitest';
import { faults } from '../long/faults.ts';

test('at least fifty, each in one place', () => {
  expect(faults.length).toBeGreaterThanOrEqual(50);
  const lost = faults.filter(
    ({ file, from, to }) => from === to || readFileSync(file, 'utf8').split(from).length !== 2,
  );
  expect(lost).toEqual([]);
});
