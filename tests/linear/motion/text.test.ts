/** What is written: exact numbers, few brackets, names instead of repetitions, dots over letters; and the verb. */

import { mkdtempSync, readFileSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { library } from '../../../blocks/library.ts';
import { compile } from '../../../compiler/compile.ts';
import { parseBlock, parseExpression } from '../../../compiler/language/parser.ts';
import { printBlock, printExpression } from '../../../compiler/language/print.ts';
import { plantBlock, typesetMotion } from '../../../compiler/linear/motion_block.ts';
import { slope, sumOf } from '../../../compiler/linear/motion_calculus.ts';
import { Writer } from '../../../compiler/linear/motion_print.ts';
import type { EnergyModel } from '../../../compiler/sheet/energy_model.ts';
import { blankSheet } from '../../../compiler/sheet/sheet.ts';
import { Refusal } from '../../../runtime/command/answer.ts';
import { motion } from '../../../runtime/command/verbs/motion.ts';
import { doublePendulum, pendulumOnCart, reactionWheelPendulum } from './models.ts';
import { derived, gravity } from './plant.ts';

/** An expression derived once by `x` and written again. */
function slopeText(text: string): string {
  const { value } = parseExpression(text);
  if (value === undefined) throw new Error(text);
  const order = ['a', 'b', 'x', 'y'];
  return printExpression(
    new Writer((name) => name === 'a' || name === 'b', order).expression(slope(sumOf(value), 'x')),
  );
}

describe('numbers stay exact', () => {
  const cases: readonly (readonly [text: string, slope: string])[] = [
    ['0.1 * 0.7 * a * x^2', '0.14 * a * x'],
    ['(0.1 + 0.2) * x', '0.3'],
    ['a * x^2 / 2', 'a * x'],
    ['a * x / 2', 'a / 2'],
    ['1.5 * x * a', '1.5 * a'],
    ['x^3 / 9', 'x^2 / 3'],
    ['x * 0.1 / 3', '1 / 30'],
    ['2 * x / 7', '2 / 7'],
    ['1e-7 * 3 * x', '0.0000003'],
    ['123456.789 * x * 1000.001', '123456912.456789'],
    ['9.81 m/s^2 * a * x', '9.81 m/s^2 * a'],
    ['20 g * x + 0.5 kg * x', '20 g + 0.5 kg'],
    ['0.3333333333333333333333 * x', '0.3333333333333333333333'],
    ['pow(x, 0.5)', 'pow(x, -1 / 2) / 2'],
    ['x^0.3', '0.3 * pow(x, -0.7)'],
  ];
  test.each(cases)('slope of %s by x', (text, want) => {
    expect(slopeText(text)).toBe(want);
  });

  test('a product of random decimals is their exact product', () => {
    const decimal = fc.tuple(fc.integer({ min: 1, max: 99_999 }), fc.integer({ min: 0, max: 9 }));
    fc.assert(
      fc.property(decimal, decimal, ([p, i], [q, j]) => {
        const written = slopeText(`${p}e-${i} * ${q}e-${j} * x`);
        const [digits = '', exponent = '0'] = written.split('e-');
        const [whole = '', part = ''] = digits.split('.');
        expect(BigInt(whole + part) * 10n ** BigInt(i + j)).toBe(
          BigInt(p) * BigInt(q) * 10n ** BigInt(part.length + Number(exponent)),
        );
      }),
    );
  });
});

describe('slopes are written plainly', () => {
  const cases: readonly (readonly [text: string, slope: string])[] = [
    ['sin(x)^2 + cos(x)^2', '0'],
    ['a * sin(x)^2 * y + a * cos(x)^2 * y + x', '1'],
    ['tan(x)', '1 / cos(x)^2'],
    ['sqrt(x^2 + y^2)', 'x / sqrt(x^2 + y^2)'],
    ['abs(x - y)', 'sign(x - y)'],
    ['exp(-a * x)', '-a * exp(-a * x)'],
    ['log(x / a)', '1 / x'],
    ['atan(x)', '1 / (x^2 + 1)'],
    ['a / (b + x)', '-a / (b + x)^2'],
    ['(x - a) * (x + a)', '2 * x'],
    ['-x^2 / 2', '-x'],
    ['x * x * x', '3 * x^2'],
  ];
  test.each(cases)('slope of %s by x', (text, want) => {
    expect(slopeText(text)).toBe(want);
  });
});

describe('the block', () => {
  test('of a pendulum on a cart, whole', () => {
    expect(plantBlock(derived(pendulumOnCart), { purpose: 'A cart.', source: 'A "textbook".' })).toBe(
      `block pendulum_on_cart
  "A cart."
  source "A \\"textbook\\"."
  side plant
in F: N = 0
out x: m
out theta: rad "from hanging down"
out v: m/s
out theta_rate: rad/s
set M: kg = 0.5 above 0
set m: kg = 200 g above 0
set l: m = 0.3
set J: kg m^2 = 0.006
set b: N s/m = 0.1
set g: m/s^2 = 9.81
set x_start: m = 0
set v_start: m/s = 0
set theta_start: rad = 2
set theta_rate_start: rad/s = 0
state q1: m = x_start
state v1: m/s = v_start
state q2: rad = theta_start
state v2: rad/s = theta_rate_start
x = q1
v = v1
theta = q2
theta_rate = v2
sin_theta = sin(theta)
# Masses, and what is left for the accelerations:
m11 = M + m
m12 = m * l * cos(theta)
m22 = m * l^2 + J
f1 = F + m * l * theta_rate^2 * sin_theta - b * v
f2 = -m * l * g * sin_theta
acceleration = solve([bare(m11), bare(m12); bare(m12), bare(m22)], [bare(f1), bare(f2)])
d/dt v1 = acceleration[1]
d/dt v2 = acceleration[2]
d/dt q1 = v1
d/dt q2 = v2
`,
    );
  });

  test('coordinates that nothing ties together are solved apart', () => {
    const apart: EnergyModel = {
      name: 'apart',
      coordinates: [
        { name: 'a', unit: 'm' },
        { name: 'b', unit: 'rad' },
        { name: 'c', unit: 'm' },
        { name: 'v1', unit: 'm', speed: 'w' },
      ],
      parameters: [
        { name: 'm', unit: 'kg', value: 1 },
        { name: 'J', unit: 'kg m^2', value: 1 },
      ],
      kinetic: 'm * (a_rate^2 + a_rate * c_rate + c_rate^2) + J * b_rate^2 + m * w^2',
      potential: '1 J * cos(b) + 2 N * c',
      forces: [],
    };
    const text = plantBlock(derived(apart));
    expect(text).toContain('acceleration = solve([m11, m13; m13, m33], [0, f3])');
    expect(text).toContain('d/dt v2 = f2 / m22');
    expect(text).toContain('state v1_2: m/s = a_rate_start');
    expect(text).toContain('d/dt v4 = 0');
    const sheet = { ...blankSheet(), shelf: { apart: text }, blocks: { it: { is: 'apart' } } };
    expect(compile(sheet, { library }).findings.filter(({ level }) => level !== 'advice')).toEqual([]);
  });

  test('reads back as what our printer writes, without a finding', () => {
    for (const model of [pendulumOnCart, reactionWheelPendulum, doublePendulum]) {
      const { value, findings } = parseBlock(plantBlock(derived(model)));
      expect(findings).toEqual([]);
      if (value === undefined) throw new Error('unread');
      expect(printBlock(value)).toContain('d/dt q1 = v1');
    }
  });

  test('six links are derived, written and compiled within a second', () => {
    const links = [1, 2, 3, 4, 5, 6];
    const sum = (k: number, of: (i: number) => string) => links.slice(0, k).map(of).join(' + ');
    const chain: EnergyModel = {
      name: 'chain',
      coordinates: links.map((i) => ({ name: `th${i}`, unit: 'rad', speed: `w${i}`, start: 0.1 * i })),
      parameters: [
        ...links.flatMap((i) => [
          { name: `m${i}`, unit: 'kg', value: i },
          { name: `l${i}`, unit: 'm', value: 1 / i },
        ]),
        gravity,
      ],
      kinetic: links
        .map(
          (k) =>
            `m${k} / 2 * ((${sum(k, (i) => `l${i} * w${i} * cos(th${i})`)})^2 + (${sum(k, (i) => `l${i} * w${i} * sin(th${i})`)})^2)`,
        )
        .join(' + '),
      potential: links.map((k) => `-m${k} * g * (${sum(k, (i) => `l${i} * cos(th${i})`)})`).join(' '),
      forces: [],
    };
    const before = performance.now();
    const text = plantBlock(derived(chain));
    const sheet = { ...blankSheet(), shelf: { chain: text }, blocks: { it: { is: 'chain' } } };
    expect(compile(sheet, { library }).value).toBeDefined();
    expect(performance.now() - before).toBeLessThan(3000);
    expect(text).toContain('m15 = (m5 + m6) * l1 * l5 * cos(th1 - th5)\n');
  });
});

test('typeset equations have dots over the letters', () => {
  const written = typesetMotion(derived(pendulumOnCart)).map(({ runs }) => runs.map(({ text }) => text).join(' '));
  expect(written).toEqual([
    '( M + m ) x ¨ + m l θ ¨ cos θ − m l θ ˙ 2 sin θ + b x ˙ = F',
    // Tall brackets are drawn with a glyph of their own.
    expect.stringMatching(/^m l x ¨ cos θ \+ \S+ m l 2 \+ J \S+ θ ¨ \+ m l g sin θ = 0$/),
  ]);
});

test('typeset equations that are too wide are broken at their sums', () => {
  const widest = (maxWidth: number) =>
    Math.max(...typesetMotion(derived(doublePendulum), { maxWidth }).map((f) => f.width));
  expect(widest(Infinity)).toBeGreaterThan(400);
  expect(widest(250)).toBeLessThanOrEqual(250);
});

describe('the verb', () => {
  const folder = mkdtempSync(join(tmpdir(), 'motion-'));
  const file = join(folder, 'cart.motion.json');
  writeFileSync(file, JSON.stringify(pendulumOnCart));

  test('prints the block, or writes it', () => {
    const printed = motion(file, {});
    expect(printed.status).toBe(0);
    expect(printed.text).toMatch(/^block pendulum_on_cart\n/);
    const to = join(folder, 'pendulum_on_cart.block');
    expect(motion(file, { to }).text).toMatch(/== F\n.*== 0\nwritten to /);
    expect(readFileSync(to, 'utf8')).toBe(`${printed.text}\n`);
    expect(() => motion(file, { to: join(folder, 'other.block') })).toThrow(Refusal);
  });

  test('says what is wrong', () => {
    const bad = join(folder, 'bad.motion.json');
    writeFileSync(bad, JSON.stringify({ ...pendulumOnCart, potential: 'm * g * h' }));
    const { status, messages } = motion(bad, {});
    expect(status).toBe(1);
    expect(messages?.join('\n')).toMatch(/potential, line 1, column 9: nothing here is called “h”/);
    const parameters = pendulumOnCart.parameters.map((each) => (each.name === 'l' ? { ...each, above: 2 } : each));
    writeFileSync(bad, JSON.stringify({ ...pendulumOnCart, parameters }));
    expect(motion(bad, {})).toMatchObject({ status: 1, messages: [expect.stringContaining('“l” must be above 2')] });
  });
});
