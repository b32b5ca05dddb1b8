/**
 * mathjs as the oracle: where it and the block language share their grammar, random expressions mean the same.
 * It reads `not a > b` and implicit products differently (README.md says how ours are read), so those are left out.
 */

import fc from 'fast-check';
import { all, create, type FactoryFunctionMap } from 'mathjs';
import { expect, test } from 'vitest';
import { parseExpression } from '../../compiler/language/parser.ts';
import type { Expression } from '../../compiler/language/syntax.ts';

const mathjs = create(all as FactoryFunctionMap, { relTol: 1e-16, absTol: 1e-300 });

const names: Readonly<Record<string, number>> = { a: 3, b: -2, c: 0.5, d: 7 };

/** Expression texts without brackets but where the generator puts them, so that precedence decides. */
const { real } = fc.letrec<{ real: string; bool: string }>((tie) => ({
  real: fc.oneof(
    { maxDepth: 6 },
    fc.constantFrom('1', '2', '0.25', '4e-1', ...Object.keys(names)),
    fc
      .tuple(tie('real'), fc.constantFrom('+', '-', '*', '/'), tie('real'))
      .map(([left, op, right]) => `${left} ${op} ${right}`),
    fc
      .tuple(tie('real'), fc.constantFrom('+', '-', '*'), tie('real'))
      .map(([left, op, right]) => `(${left}) ${op} (${right})`),
    fc
      .tuple(fc.constantFrom('a', '2', '(a)', 'abs(b)'), fc.constantFrom('2', '3', '-1', 'a', '2^2'))
      .map(([x, n]) => `${x}^${n}`),
    tie('real').map((x) => `-${x}`),
    tie('real').map((x) => `abs(${x})`),
    fc.tuple(tie('real'), tie('real')).map(([x, y]) => `max(${x}, ${y})`),
    fc.tuple(tie('bool'), tie('real'), tie('real')).map(([test_, x, y]) => `(${test_} ? ${x} : ${y})`),
  ),
  bool: fc.oneof(
    { maxDepth: 3 },
    fc.constantFrom('true', 'false'),
    fc
      .tuple(tie('real'), fc.constantFrom('<', '<=', '>', '>='), tie('real'))
      .map(([left, op, right]) => `${left} ${op} ${right}`),
    fc
      .tuple(tie('bool'), fc.constantFrom('and', 'or'), tie('bool'))
      .map(([left, op, right]) => `${left} ${op} ${right}`),
    tie('bool').map((x) => `(${x})`),
  ),
}));

/** The meaning of the shared part, for numbers. */
function evaluate(expression: Expression): number | boolean {
  const number = (e: Expression): number => evaluate(e) as number;
  switch (expression.kind) {
    case 'number':
      return expression.value;
    case 'name':
      return (
        expression.name === 'true' || (expression.name === 'false' ? false : (names[expression.name] ?? Number.NaN))
      );
    case 'unary':
      return -number(expression.arg);
    case 'choose':
      return evaluate(expression.condition) ? evaluate(expression.then) : evaluate(expression.else);
    case 'call': {
      const args = expression.args.map(number);
      return expression.name === 'abs' ? Math.abs(args[0] ?? Number.NaN) : Math.max(...args);
    }
    case 'binary': {
      const { op } = expression;
      const left = evaluate(expression.left);
      const right = evaluate(expression.right);
      if (op === 'and') return left === true && right === true;
      if (op === 'or') return left === true || right === true;
      const x = left as number;
      const y = right as number;
      switch (op) {
        case '+':
          return x + y;
        case '-':
          return x - y;
        case '*':
          return x * y;
        case '/':
          return x / y;
        case '^':
          return x ** y;
        case '<':
          return x < y;
        case '<=':
          return x <= y;
        case '>':
          return x > y;
        case '>=':
          return x >= y;
        default:
          throw new Error(op);
      }
    }
    default:
      throw new Error(expression.kind);
  }
}

test('random expressions mean what mathjs says', () => {
  let agreed = 0;
  fc.assert(
    fc.property(real, (text) => {
      const { value, findings } = parseExpression(text);
      expect(findings, text).toEqual([]);
      if (value === undefined) throw new Error(text);
      const theirs: unknown = mathjs.evaluate(text, { ...names });
      // Powers of negative numbers leave the reals there.
      if (typeof theirs !== 'number') return;
      const ours = evaluate(value) as number;
      const agrees = Object.is(ours, theirs) || Math.abs(ours - theirs) <= 1e-12 * Math.max(1, Math.abs(theirs));
      expect(agrees, `${text}: ${ours}, not ${theirs}`).toBe(true);
      agreed++;
    }),
    { numRuns: 3000 },
  );
  expect(agreed).toBeGreaterThan(1000);
});
