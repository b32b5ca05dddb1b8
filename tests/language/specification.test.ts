/** The language's own page: its blocks read, their examples hold, and its tables name every statement there is. */

import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { describe, expect, test } from 'vitest';
import { library } from '../../blocks/library.ts';
import { reservedNames } from '../../compiler/language/expression.ts';
import { parseBlock, parseExpression, parseUnit } from '../../compiler/language/parser.ts';
import { runExample } from '../../runtime/bench/examples.ts';

const page = readFileSync(join(import.meta.dirname, '../../compiler/language/README.md'), 'utf8');
const texts = [...page.matchAll(/```block\n([\s\S]*?)```/g)].map((match) => match[1] ?? '');

describe.each(texts.map((text) => [/^block (\w+)/.exec(text)?.[1] ?? '', text] as const))('%s', (name, text) => {
  const { value, findings } = parseBlock(text, name);
  test('reads', () => {
    expect(findings).toEqual([]);
  });
  test('does what its examples say', async () => {
    expect(value?.examples.length).toBeGreaterThan(0);
    for (const example of value?.examples ?? []) {
      const ran = await runExample(name, text, example, library);
      expect(ran.findings.filter(({ level }) => level === 'error')).toEqual([]);
      expect(ran.compared.filter(({ agrees }) => !agrees)).toEqual([]);
      expect(ran.compared.length).toBeGreaterThan(0);
    }
  });
});

test('the tables name every statement', () => {
  const said = [...page.matchAll(/^\| `([a-z]+)/gm)].map((match) => match[1] ?? '');
  for (const statement of [...new Set(said)]) {
    const { findings } = parseBlock(`block b\n"p"\n${statement}`);
    expect(findings.map(({ id }) => id)).not.toContain('unknown_statement');
  }
  const facts = parseBlock('block b\n"p"\nmodes').findings[0]?.facts;
  expect(facts?.nearest).toBe('mode');
  for (const word of 'block called source side guards harmless analysed drawn in inputs out outputs channel set build let needs mem line state mode from say law example'.split(
    ' ',
  ))
    expect(said).toContain(word);
});

test('every unit of the page is one', () => {
  const units = /Units: `([^`]+)`, also `([^`]+)`/.exec(page.replaceAll('\n', ' '));
  const symbols = `${units?.[1]} ${units?.[2]}`.split(' ');
  expect(symbols.length).toBeGreaterThan(30);
  for (const symbol of symbols) expect(parseUnit(symbol).findings).toEqual([]);
});

test('every reserved name of the page is one', () => {
  const said = /; `([a-z ]+)` may not/.exec(page.replaceAll('\n', ' '))?.[1]?.split(' ');
  expect(said).toEqual([...reservedNames]);
  for (const name of reservedNames)
    expect(parseBlock(`block b\n"p"\nin ${name}`).findings[0]?.id).toBe('reserved_name');
});

test('operators bind as the page says', () => {
  const same = (one: string, other: string): void => {
    const withoutSpots = (text: string): string =>
      JSON.stringify(parseExpression(text).value, (key, value: unknown) => (key === 'at' ? undefined : value));
    expect(withoutSpots(one), one).toBe(withoutSpots(other));
  };
  same('a ? b : c or d', 'a ? b : (c or d)');
  same('a or b and c', 'a or (b and c)');
  same('a and not b == c', 'a and (not (b == c))');
  same('a + b < c * d', '(a + b) < (c * d)');
  same('a - b + c', '(a - b) + c');
  same('a / b * c \\ d', '((a / b) * c) \\ d');
  same('-a * b', '(-a) * b');
  same('-a^b', '-(a^b)');
  same('a^b^c', 'a^(b^c)');
  same('a^-b', 'a^(-b)');
  same('a^b[1]', 'a^(b[1])');
});
