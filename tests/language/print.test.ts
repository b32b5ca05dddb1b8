/** Printing and reading again gives the same syntax: for random blocks, and for every block on the shelf. */

import fc from 'fast-check';
import { expect, test } from 'vitest';
import { parseBlock, parseExpression } from '../../compiler/language/parser.ts';
import { printBlock, printExpression } from '../../compiler/language/print.ts';
import { blocks, expressions, withoutSpots } from './syntax_samples.ts';

test('an expression survives printing', () => {
  fc.assert(
    fc.property(expressions, (expression) => {
      const read = parseExpression(printExpression(expression));
      expect(read.findings).toEqual([]);
      expect(withoutSpots(read.value)).toEqual(withoutSpots(expression));
    }),
    { numRuns: 2000 },
  );
});

test('a block survives printing', () => {
  fc.assert(
    fc.property(blocks, (block) => {
      const read = parseBlock(printBlock(block));
      expect(read.findings).toEqual([]);
      expect(withoutSpots(read.value)).toEqual(withoutSpots(block));
    }),
    { numRuns: 500 },
  );
});

test('brackets are printed only where they change the meaning', () => {
  for (const text of [
    'a - (b - c) * d',
    '-x^2 + (-x)^2',
    'not a > b and c',
    '(a ? b : c) ? d : e ? f : g',
    'M \\ (N \\ f)',
    '(2 m)^2 + 2 m^2',
    '2^3^x',
    '(a < b) == (c < d)',
    'x[i + 1, j]',
    '[x * 2 for x in terms]',
    '[1, 2; 3, 4]',
  ]) {
    const read = parseExpression(text);
    expect(read.value && printExpression(read.value)).toBe(text);
  }
});
