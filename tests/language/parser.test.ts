/** What the parser reads, where it points when it cannot, and that no text holds it up. */

import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { parseBlock, parseExpectation, parseExpression, parseUnit } from '../../compiler/language/parser.ts';
import type { Expression } from '../../compiler/language/syntax.ts';
import { languageWording } from '../../compiler/language/wording.ts';

/** `id line:column` of every finding of a block text. */
const found = (text: string): string[] =>
  parseBlock(text).findings.map(({ id, at }) => `${id} ${at.line}:${at.column}`);
const foundIn = (text: string): string[] =>
  parseExpression(text).findings.map(({ id, at }) => `${id} ${at.line}:${at.column}`);

function expressionOf(text: string): Expression {
  const { value, findings } = parseExpression(text);
  expect(findings).toEqual([]);
  if (value === undefined) throw new Error(text);
  return value;
}

const head = 'block b\n  "Purpose."\n';

describe('numbers with units', () => {
  test.each([
    ['20 ms', 0.02],
    ['5ms', 0.005],
    ['10 deg', Math.PI / 18],
    ['100 rpm', 10.471975511965978], // 100 · 2π/60, SI brochure 2019
    ['4 percent', 0.04],
    ['3 N m/rad', 3],
    ['2 km/h', 0.5555555555555556], // 2000/3600
    ['1 J/kg K', 1],
  ])('%s is %f in SI', (text, value) => {
    expect(expressionOf(text)).toMatchObject({ kind: 'number', value });
  });

  test('the unit ends where it stops being tight, or stops being a unit', () => {
    expect(expressionOf('x / 2 s')).toMatchObject({ op: '/', right: { value: 2, unit: { text: 's' } } });
    expect(expressionOf('2 m / s')).toMatchObject({ op: '/', right: { kind: 'name', name: 's' } });
    expect(expressionOf('2 m/x')).toMatchObject({ op: '/', right: { kind: 'name', name: 'x' } });
    expect(expressionOf('2/s')).toMatchObject({ op: '/', right: { kind: 'name', name: 's' } });
    expect(expressionOf('2 m/s^2')).toMatchObject({ unit: { text: 'm/s^2' } });
  });

  test('a product without its sign is an error with a place', () => {
    expect(foundIn('2 x')).toEqual(['unknown_unit 1:3']);
    expect(foundIn('2 (x)')).toEqual(['missing_sign 1:3']);
    expect(foundIn('x y')).toEqual(['missing_sign 1:3']);
    expect(foundIn('1 2')).toEqual(['missing_sign 1:3']);
    expect(parseExpression('3 Nm').findings[0]?.facts.nearest).toMatch(/^N m/);
  });

  test('a mode that something is said of must be listed, wherever the list stands', () => {
    const out = 'out y\ny = 1';
    expect(found(`${head}analysed in on\nfrom off to on when true\nmode off, on\n${out}`)).toEqual([]);
    expect(found(`${head}analysed in flying\nmode off, on\n${out}`)).toEqual(['unknown_mode 3:13']);
    expect(found(`${head}mode off, on\nfrom off, sleepy to onn when true\n${out}`)).toEqual([
      'unknown_mode 4:11',
      'unknown_mode 4:21',
    ]);
    expect(parseBlock(`${head}mode off, on\nfrom off to onn when true\n${out}`).findings[0]?.facts.nearest).toMatch(
      /^on/,
    );
  });

  test('a unit letter must be declared by something wired or set', () => {
    expect(found(`${head}in u: U\nout y: U\ny = u + 1 U`)).toEqual([]);
    expect(found(`${head}in u: U\nout y: U\ny = u * 2 X`)).toEqual(['undeclared_unit_letter 5:11']);
  });
});

test('a unit alone', () => {
  expect(parseUnit('kg m^2/s A').value?.factors).toEqual([
    { symbol: 'kg', power: 1 },
    { symbol: 'm', power: 2 },
    { symbol: 's', power: -1 },
    { symbol: 'A', power: -1 },
  ]);
  expect(parseUnit('1/s').value).toEqual({ factors: [{ symbol: 's', power: -1 }], text: '1/s' });
  expect(parseUnit('furlong').findings[0]?.id).toBe('unknown_unit');
  expect(parseUnit('m^0').findings[0]?.id).toBe('bad_unit_power');
  expect(parseUnit('m/').findings[0]?.id).toBe('unexpected');
});

test('an expectation', () => {
  expect(parseExpectation('abs(body.lean) < 10 deg always from 4 s').value).toMatchObject({
    condition: { op: '<', left: { args: [{ name: 'body.lean' }] } },
    mode: 'always',
    from: { value: 4 },
  });
  expect(parseExpectation('gate.enabled once until 4 s').value).toMatchObject({ mode: 'once', until: { value: 4 } });
  expect(parseExpectation('gate.enabled').findings[0]?.id).toBe('unexpected');
  expect(parseExpectation('a once from 1 s until 2 s and').value).toBeUndefined();
});

test('every error of a text is reported, each in its own statement', () => {
  const text = `${head}in angle: furlong\nout y: rad\nset k: 1/s = 3 above\nfoo bar\nnext = 3\ny = a < b < c\nlet dt = 3\nm = [1, 2; 3]`;
  expect(found(text)).toEqual([
    'unknown_unit 3:11',
    'unexpected 5:21',
    'unknown_statement 6:1',
    'chained_comparison 8:11',
    'reserved_name 9:5',
    'uneven_matrix 10:12',
  ]);
});

test('a bracket left open ends where the next statement begins', () => {
  expect(found(`${head}y = (1 +\nset q = 2\nz = 3`)).toEqual(['open_bracket 3:5', 'unexpected 3:9']);
  expect(parseBlock(`${head}y = (1 +\n  2)\nz = 3`).value?.equations.map(({ name }) => name)).toEqual(['y', 'z']);
});

test('a statement goes on after a comma or a semicolon', () => {
  const { value, findings } = parseBlock(
    `${head}in u\nout y\ny = u\nexample: u 1 gives y 1;\n  u 2 for 3 ticks gives y 2`,
  );
  expect(findings).toEqual([]);
  expect(value?.examples[0]?.steps.map(({ ticks }) => ticks)).toEqual([1, 3]);
});

test('an equation may be called like a statement', () => {
  const { value, findings } = parseBlock(`${head}out line\nline = 2\nlaw line = 2\nd/dt x = 3`);
  expect(findings).toEqual([]);
  expect(value?.equations.map(({ kind, name }) => `${kind} ${name}`)).toEqual(['plain line', 'law line', 'rate x']);
});

/** One text or expression for each finding, so that each is known to fire and to have its words. */
const firing: Record<string, readonly string[]> = {
  block: [
    `${head}y = 3 × 2`,
    `${head}say x "open`,
    `${head}y = (1\nset q = 2`,
    `${head}y = )`,
    `${head}out y: U\ny = 2 X`,
    `${head}in u: 2 m`,
    `${head}analysed in flying\nmode off, on`,
    `${head}in u: m m m m m m m m m m m m m m`,
    `${head}y = imu.accel`,
    `${head}in °`,
    `${head}in t`,
    `${head}foo`,
    `${head}called "a"\ncalled "b"`,
    'in u',
    'block b\nin u',
    `${head}example: u 1 for 1.5 ticks gives y 1`,
    '#'.repeat(100_001),
  ],
  expression: [
    'x y',
    '2 furlong',
    '2 m^n',
    '1e999',
    'a < b < c',
    '[1, 2; 3]',
    'x[1, 2, 3]',
    '2 is "-"',
    `${'('.repeat(200)}1${')'.repeat(200)}`,
    Array.from({ length: 3000 }, () => '1').join('+'),
  ],
};

test('every finding fires and has its words', () => {
  const fired = new Set<string>();
  const note = (findings: readonly { id: string; facts: Readonly<Record<string, string>> }[]): void => {
    for (const { id, facts } of findings) {
      fired.add(id);
      const words = languageWording[id]?.(facts);
      expect(words, id).toBeDefined();
      for (const text of Object.values(words ?? {})) expect(text, id).not.toMatch(/undefined/);
      expect(words?.brief).not.toMatch(/\.$/);
      expect(words?.full).toMatch(/[.?]$/);
    }
  };
  for (const text of firing.block ?? []) note(parseBlock(text).findings);
  for (const text of firing.expression ?? []) note(parseExpression(text).findings);
  expect([...fired].sort()).toEqual(Object.keys(languageWording).sort());
});

describe('hostile texts are answered quickly and never throw', () => {
  const hostile: Record<string, string> = {
    brackets: '['.repeat(99_000),
    minuses: `y = ${'-'.repeat(99_000)}1`,
    nots: `y = ${'not '.repeat(20_000)}a`,
    powers: `y = ${'2^'.repeat(45_000)}2`,
    choices: `y = ${'a ? '.repeat(20_000)}`,
    sums: `y = ${'1+'.repeat(45_000)}1`,
    quotes: '"'.repeat(99_000),
    backslashes: `say a "${'\\'.repeat(99_000)}`,
    digits: `y = ${'9'.repeat(99_000)}`,
    exponent: 'y = 1e99999999999',
    lines: '=\n'.repeat(45_000),
    statements: 'foo bar\n'.repeat(12_000),
    unit: `in u: ${'m '.repeat(45_000)}`,
    name: `in ${'a'.repeat(99_000)} b`,
    word: 'a'.repeat(145_000),
    unknown: `y = 1 ${'q'.repeat(99_000)}`,
    dotted: `y = ${'a.'.repeat(45_000)}a`,
    commas: `y = [${'1,'.repeat(45_000)}`,
  };
  test.each(Object.keys(hostile))('%s', (kind) => {
    const text = hostile[kind] ?? '';
    const begun = process.cpuUsage().user / 1000;
    const { findings } = parseBlock(text);
    parseExpression(text);
    parseUnit(text);
    parseExpectation(text);
    expect(process.cpuUsage().user / 1000 - begun).toBeLessThan(2000);
    expect(findings.length).toBeGreaterThan(0);
    expect(findings.length).toBeLessThanOrEqual(50);
  });

  test('random soup', () => {
    const piece = fc.constantFrom(
      ...'block in out set let mem next say mode from to when example gives for d/dt ( ) [ ] , ; : = == + - ^ 1 2.5 m rad U "a" \n " # x y unlimited fold( is é'.split(
        ' ',
      ),
      '\n',
      ' ',
    );
    fc.assert(
      fc.property(fc.array(piece, { maxLength: 60 }), (pieces) => {
        const text = pieces.join(' ');
        const lines = text.split('\n');
        for (const { at } of parseBlock(text, 'b').findings) {
          const line = lines[(at.line ?? 0) - 1];
          expect(line).toBeDefined();
          expect(at.column).toBeLessThanOrEqual((line?.length ?? 0) + 1);
        }
      }),
      { numRuns: 1000 },
    );
  });
});
