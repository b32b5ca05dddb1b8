/** Forward derivatives through the typed program against derivatives known in closed form, and against the chain rule by hand. */

import fc from 'fast-check';
import { parse, derivative as symbolic } from 'mathjs';
import { describe, expect, test } from 'vitest';
import { library } from '../../blocks/library.ts';
import { compile } from '../../compiler/compile.ts';
import { DerivativeMachine } from '../../compiler/linear/derivative.ts';
import { blankSheet } from '../../compiler/sheet/sheet.ts';

/** ∂y/∂(a, b) of a block `y = TEXT` at a point. */
function slopes(text: string, a: number, b: number): [number, number] {
  const block = `block it\n  "T."\nin p\nin q\nout y\nmem a = p\nmem b = q\nnext a = p\nnext b = q\ny = ${text}\n`;
  const sheet = {
    ...blankSheet(),
    number: 'f64' as const,
    shelf: { it: block },
    blocks: {
      p: { is: 'fixed', set: { value: a } },
      q: { is: 'fixed', set: { value: b } },
      it: { is: 'it' },
      d: { is: 'tick_delay' },
    },
    wires: { 'it.p': 'p.y', 'it.q': 'q.y', 'd.u': 'it.y' },
  };
  const { value, findings } = compile(sheet, { library });
  if (value === undefined) throw new Error(JSON.stringify(findings));
  const { program } = value.bench({ keep: 'all', record: [], hooks: [] });
  const machine = new DerivativeMachine(program, 2);
  const slot = (name: string): number => program.slots.find((one) => one.name === name)?.id ?? -1;
  machine.call('tick');
  machine.seed(slot('it.a'), 0);
  machine.seed(slot('it.b'), 1);
  machine.call('tick');
  const [x = 0, y = 0] = machine.gradient(slot('it.y'));
  return [x, y];
}

describe('against symbolic differentiation (mathjs)', () => {
  const expressions = [
    ['a * b + a / b', 'a * b + a / b'],
    ['sqrt(a) * sin(b)', 'sqrt(a) * sin(b)'],
    ['cos(a * b) - tan(b / 4)', 'cos(a * b) - tan(b / 4)'],
    ['exp(-a) * log(b)', 'exp(-a) * log(b)'],
    ['atan(a) + asin(b / 4) - acos(a / 4)', 'atan(a) + asin(b / 4) - acos(a / 4)'],
    ['a ^ 3 - b ^ -2', 'a ^ 3 - b ^ -2'],
    ['pow(a, b)', 'pow(a, b)'],
    ['hypot(a, b)', 'sqrt(a ^ 2 + b ^ 2)'],
    ['atan2(a, b)', 'atan(a / b)'],
    ['abs(a - 2 * b)', 'sqrt((a - 2 * b) ^ 2)'],
    ['(a > b ? a * a : b * b) + min(a, 2 * b)', '(a > b ? a * a : b * b) + (a < 2 * b ? a : 2 * b)'],
  ] as const;
  for (const [ours, theirs] of expressions)
    test(ours, () => {
      fc.assert(
        fc.property(
          fc.double({ min: 0.2, max: 3, noNaN: true }),
          fc.double({ min: 0.2, max: 3, noNaN: true }),
          (a, b) => {
            fc.pre(Math.abs(a - b) > 1e-3 && Math.abs(a - 2 * b) > 1e-3);
            const node = theirs.includes('?') ? undefined : parse(theirs);
            const want = (['a', 'b'] as const).map((name) =>
              node !== undefined
                ? (symbolic(node, name).evaluate({ a, b }) as number)
                : name === 'a'
                  ? (a > b ? 2 * a : 0) + (a < 2 * b ? 1 : 0)
                  : (a > b ? 0 : 2 * b) + (a < 2 * b ? 0 : 2),
            );
            const got = slopes(ours, a, b);
            for (const [i, x] of want.entries())
              expect(Math.abs((got[i] ?? 0) - x)).toBeLessThan(1e-11 * Math.max(1, Math.abs(x)));
          },
        ),
        { numRuns: 25 },
      );
    });
});

describe('as documented', () => {
  test('rounding to whole numbers counts as fine', () => {
    expect(slopes('real(int(100 * a)) / 100 + round(b)', 1.234, 0.7)).toEqual([1, 1]);
  });

  test('a limit that acts lets nothing through', () => {
    expect(slopes('max(min(a, 1), -1) + b', 2, 0.5)).toEqual([0, 1]);
    expect(slopes('max(min(a, 1), -1) + b', 0.5, 0.5)).toEqual([1, 1]);
  });

  test('wrapping a count differentiates to nothing lost', () => {
    expect(slopes('real(wrap(int(1000 * a), 8)) / 1000 + 0 * b', 1.5, 0.5)[0]).toBeCloseTo(1, 12);
  });
});
