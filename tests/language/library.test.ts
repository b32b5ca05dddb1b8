/** Every block on the shelf reads, prints back as itself, and says what it is for and where it comes from. */

import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { describe, expect, test } from 'vitest';
import { library } from '../../blocks/library.ts';
import { parseBlock } from '../../compiler/language/parser.ts';
import { printBlock } from '../../compiler/language/print.ts';
import { withoutSpots } from './syntax_samples.ts';

const shelves = 'drive sense clean compensate combine limit decide guard actuate plant'.split(' ');

test('there is a shelf for every purpose', () => {
  expect(new Set([...library.values()].map(({ shelf }) => shelf))).toEqual(new Set(shelves));
});

test("the list by purpose is the library, in the blocks' own words", () => {
  const page = readFileSync(join(import.meta.dirname, '../../blocks/README.md'), 'utf8');
  const listed = [...page.matchAll(/^\| `(\w+)` +\| (.*?) +\|$/gm)].map(([, name, purpose]) => `${name}: ${purpose}`);
  const wanted = [...library].map(([name, { text }]) => `${name}: ${parseBlock(text, name).value?.purpose}`);
  expect(listed.sort()).toEqual(wanted.sort());
});

describe.each([...library])('%s', (name, { text }) => {
  const { value, findings } = parseBlock(text, name);
  test('reads and prints back', () => {
    expect(findings).toEqual([]);
    expect(value?.name).toBe(name);
    if (value === undefined) return;
    expect(withoutSpots(parseBlock(printBlock(value)).value)).toEqual(withoutSpots(value));
  });
  test('says what it is for and where it comes from', () => {
    expect(value?.purpose).toMatch(/\.$/);
    expect(value?.source).toMatch(/\.$/);
  });
});
