/** Formulas: boxes hold their ink, parts stand where mathematics puts them, and words say the same. */

import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { parseBlock, parseExpression } from '../../compiler/language/parser.ts';
import type { Equation, Expression } from '../../compiler/language/syntax.ts';
import type { Formula, FormulaOptions, Run } from '../../compiler/picture/formula.ts';
import { layoutEquation, layoutFormula } from '../../compiler/picture/formula.ts';
import { glyphOf, textWidth } from '../../compiler/picture/metrics.ts';
import { equationSpoken, formulaSpoken } from '../../compiler/picture/spoken.ts';

function read(text: string): Expression {
  const { value } = parseExpression(text);
  if (value === undefined) throw new Error(`cannot read ${text}`);
  return value;
}

function equation(line: string): Equation {
  const { value } = parseBlock(
    `block a\n"b"\nin u\nin x_1\nout y\nmem x = 0\nstate theta = 0\nstate lean = 0\n${line}`,
  );
  const found = value?.equations[0];
  if (found === undefined) throw new Error(`cannot read ${line}`);
  return found;
}

function lay(text: string, options?: FormulaOptions): Formula {
  return layoutFormula(read(text), options);
}

function written(formula: Formula): string {
  return formula.runs.map((run) => run.text).join(' ');
}

function find(formula: Formula, text: string): Run {
  const run = formula.runs.find((each) => each.text === text);
  if (run === undefined) throw new Error(`no ${text} in ${written(formula)}`);
  return run;
}

/** Ink of a run as a box. */
function inkOf(run: Run) {
  const glyphs = [...run.text].map((character) => glyphOf(character, run.face));
  const scale = run.size / 1000;
  return {
    left: run.x,
    right: run.x + textWidth(run.text, run.size, run.face),
    top: run.y - Math.max(...glyphs.map((glyph) => glyph.ascent)) * scale,
    bottom: run.y + Math.max(...glyphs.map((glyph) => glyph.descent)) * scale,
  };
}

const names = ['x', 'u', 'theta', 'omega_0', 'gain', 'lean_rate', 'dt', 'x1'];
const expressions: fc.Arbitrary<string> = fc.letrec<{ any: string }>((tie) => ({
  any: fc.oneof(
    { maxDepth: 5, withCrossShrink: true },
    fc.constantFrom(...names),
    fc.constantFrom('1', '0.5', '2 rad/s', '12', '5e-4', '10 deg'),
    fc
      .tuple(tie('any'), fc.constantFrom('+', '-', '*', '/', '^', '<', '>='), tie('any'))
      .map(([a, op, b]) => `(${a}) ${op} (${b})`),
    tie('any').map((a) => `-(${a})`),
    fc.tuple(tie('any'), tie('any'), tie('any')).map(([c, a, b]) => `((${c}) > 0 ? (${a}) : (${b}))`),
    fc.tuple(fc.constantFrom('sin', 'sqrt', 'abs', 'exp', 'floor', 'log'), tie('any')).map(([f, a]) => `${f}(${a})`),
    fc.tuple(tie('any'), tie('any')).map(([a, b]) => `[${a}, ${b}]`),
  ),
})).any;

describe('any expression', () => {
  test('has a box that holds its ink', () => {
    fc.assert(
      fc.property(expressions, (text) => {
        const formula = lay(text);
        for (const run of formula.runs) {
          const ink = inkOf(run);
          expect(ink.left).toBeGreaterThanOrEqual(-1e-6);
          expect(ink.right).toBeLessThanOrEqual(formula.width + 1e-6);
          expect(ink.top).toBeGreaterThanOrEqual(-formula.ascent - 1e-6);
          expect(ink.bottom).toBeLessThanOrEqual(formula.descent + 1e-6);
        }
        for (const rule of formula.rules) {
          expect(rule.width).toBeGreaterThan(0);
          expect(rule.x).toBeGreaterThanOrEqual(-1e-6);
          expect(rule.x + rule.width).toBeLessThanOrEqual(formula.width + 0.2 * 15);
        }
      }),
      { seed: 4, numRuns: 300 },
    );
  });

  test('grows with its size in proportion, and is the same every time', () => {
    fc.assert(
      fc.property(expressions, (text) => {
        const [small, large] = [lay(text, { size: 10 }), lay(text, { size: 20 })];
        expect(lay(text, { size: 10 })).toEqual(small);
        expect(large.runs.length).toBe(small.runs.length);
        expect(large.width).toBeGreaterThan(small.width);
      }),
      { seed: 5, numRuns: 100 },
    );
  });
});

describe('fractions', () => {
  test('stand over their bar, which is on the axis', () => {
    const formula = lay('(x + 1) / (u - 2)');
    const [bar] = formula.rules;
    expect(formula.rules.length).toBe(1);
    expect(-((bar?.y ?? 0) + (bar?.height ?? 0) / 2)).toBeCloseTo(formula.axis, 6);
    expect(inkOf(find(formula, 'x')).bottom).toBeLessThan(bar?.y ?? 0);
    expect(inkOf(find(formula, '2')).top).toBeGreaterThan(bar?.y ?? 0);
  });

  test('inside a fraction a plain quotient takes a slash, one beside other factors does not', () => {
    expect(lay('1 / (1 + s / corner)').rules.length).toBe(1);
    expect(written(lay('1 / (1 + s / corner)'))).toContain('/');
    expect(lay('2 * pi / counts * (count - last) / dt').rules.length).toBe(2);
  });

  test('what is under a slash keeps its brackets', () => {
    expect(written(lay('x / (1 + a / (b * c))'))).toContain('( b c )');
  });
});

describe('names', () => {
  test('are Greek, slanted, with subscripts; the period is T', () => {
    const formula = lay('theta + omega_0 * dt + lean_rate + x1');
    expect(find(formula, 'θ').face).toBe('italic');
    expect(find(formula, '0').y).toBeGreaterThan(find(formula, 'ω').y);
    expect(find(formula, 'rate').size).toBeLessThan(find(formula, 'lean').size);
    expect(written(formula)).toContain('T');
    expect(find(formula, '1').y).toBeGreaterThan(0);
  });
});

describe('signs', () => {
  test('only the brackets that are needed', () => {
    const brackets = (text: string) => [...written(lay(text))].filter((each) => each === '(').length;
    expect(brackets('a - (b - c)')).toBe(1);
    expect(brackets('(a - b) - c')).toBe(0);
    expect(brackets('a + (b + c)')).toBe(1);
    expect(brackets('(a * b) ^ 2')).toBe(1);
    expect(brackets('a * (b / c)')).toBe(0);
    expect(brackets('a - -b')).toBe(1);
    expect(brackets('u < -3')).toBe(0);
    expect(brackets('not (a and b)')).toBe(1);
    expect(brackets('(not a) and b')).toBe(0);
  });

  test('a product shows a point where its factors would run together', () => {
    expect(written(lay('2 * 3'))).toBe('2 · 3');
    expect(written(lay('k * x'))).toBe('k x');
    expect(written(lay('gain * rate'))).toBe('gain · rate');
  });

  test('comparisons and words are those of mathematics', () => {
    expect(written(lay('a <= b and c != d'))).toBe('a ≤ b and c ≠ d');
    expect(written(lay('-x - 1'))).toBe('− x − 1');
  });
});

describe('brackets grow with what they hold', () => {
  test('round a fraction', () => {
    const flat = lay('2 * (x + 1)').runs.find((run) => run.text === '(');
    const tall = lay('2 * (x / y + 1)');
    const grown = tall.runs.find((run) => run.text.charCodeAt(0) >= 0xe000);
    expect(flat).toBeDefined();
    expect(grown).toBeDefined();
    if (grown === undefined) return;
    const ink = inkOf(grown);
    expect(ink.top).toBeLessThan(inkOf(find(tall, 'x')).top + 1);
    expect(ink.bottom).toBeGreaterThan(inkOf(find(tall, 'y')).bottom - 4);
    expect(-(ink.top + ink.bottom) / 2).toBeCloseTo(tall.axis, 1);
  });

  test('cases have a line each', () => {
    const formula = lay('u > high ? high : u < low ? low : u');
    const lines = new Set(
      formula.runs.filter((run) => run.text === 'if' || run.text === 'otherwise').map((run) => run.y),
    );
    expect(lines.size).toBe(3);
  });
});

/** An opening bracket of any size. */
const bracket = /[(\ue000-\ue007]/;

describe('values in place of settings', () => {
  const values = {
    gain: { number: '-5e-4', unit: '' },
    pole: { number: '12', unit: '' },
    width: { number: '3', unit: '°' },
  };

  test('are marked and underlined, once each', () => {
    const formula = lay('gain * u / (1 + s / pole)', { values });
    expect(formula.rules.filter((rule) => rule.setting === 'gain').length).toBe(1);
    expect(formula.rules.filter((rule) => rule.setting === 'pole').length).toBe(1);
    const digits = formula.runs
      .filter((run) => run.setting === 'gain')
      .map((run) => run.text)
      .join('');
    expect(digits).toBe('−5·10−4');
  });

  test('carry their unit; negative ones take brackets in sums', () => {
    expect(written(lay('abs(u) < width', { values }))).toContain('3 °');
    expect(written(lay('u + gain', { values }))).toMatch(bracket);
  });

  test('lists become polynomials', () => {
    const lists = {
      num: { number: '', unit: '', coefficients: ['1', '0', '-2.5'] },
      den: { number: '', unit: '', coefficients: ['3'] },
    };
    expect(written(lay('num(s)', { values: lists }))).toBe('s 2 − 2.5');
    expect(written(lay('den(s) * u', { values: lists }))).toBe('3 u');
    expect(written(lay('num(s) * u', { values: lists }))).toMatch(bracket);
  });
});

describe('equations', () => {
  test('say what their left side is', () => {
    expect(written(layoutEquation(equation('y = u + 1')))).toBe('y = u + 1');
    expect(written(layoutEquation(equation('next x = u')))).toBe('x + = u');
    expect(written(layoutEquation(equation('d/dt theta = u')))).toBe('θ ˙ = u');
    expect(written(layoutEquation(equation('d/dt lean = u')))).toMatch(/^d lean d t =/);
  });

  test('of an equality put it in brackets, so that no two equals signs stand in a row', () => {
    expect(written(layoutEquation(equation('y = u == x_1')))).toMatch(/^y = \( u = x .*\)$/);
    expect(written(layoutEquation(equation('y = u != x_1')))).not.toContain('(');
  });

  test('are broken before an operator where they are too wide', () => {
    const line = equation('y = u + u * 100 + u * 1000 + u * 10000 + u * 100000');
    const whole = layoutEquation(line);
    const broken = layoutEquation(line, { maxWidth: whole.width / 2 });
    expect(broken.width).toBeLessThanOrEqual(whole.width / 2 + 1);
    expect(broken.descent).toBeGreaterThan(whole.descent);
    expect(broken.runs.length).toBe(whole.runs.length);
  });
});

describe('spoken', () => {
  test('keeps apart what brackets keep apart', () => {
    expect(formulaSpoken(read('a * (b + c)'))).not.toBe(formulaSpoken(read('a * b + c')));
    expect(formulaSpoken(read('a / (b + c)'))).toBe('a over the quantity b plus c, end');
  });

  test('says numbers, units and functions as words', () => {
    expect(formulaSpoken(read('sqrt(x) > 2 rad/s'))).toBe('square root of x is greater than 2 rad/s');
    expect(equationSpoken(equation('next x = u * x_1'))).toBe('next x equals u times x 1');
    expect(formulaSpoken(read('gain * u'), { gain: { number: '-3', unit: '' } })).toBe('−3 times u');
  });
});
