/** Leaves factors of one out of a law where something else can be seen to be set: `1·1 raw` says no more than `raw`. */

import type { Equation, Expression } from '../language/syntax.ts';
import type { PutIn } from './formula.ts';

/** The equation without settings that multiply by one. A single one with no other setting beside it stays: it is the blank to be filled. */
export function withoutOnes(equation: Equation, values: Readonly<Record<string, PutIn>>): Equation {
  const value = spare(equation.value, values);
  return value === equation.value ? equation : { ...equation, value };
}

function spare(expression: Expression, values: Readonly<Record<string, PutIn>>): Expression {
  if (expression.kind !== 'binary') return expression;
  if (expression.op !== '*') {
    const left = spare(expression.left, values);
    const right = spare(expression.right, values);
    return left === expression.left && right === expression.right ? expression : { ...expression, left, right };
  }
  const factors = factorsOf(expression);
  const kept = factors.filter((factor) => !isOne(factor, values));
  const others = kept.some((factor) => factor.kind === 'name' && Object.hasOwn(values, factor.name));
  const [first, ...rest] = kept;
  if (first === undefined || kept.length === factors.length) return expression;
  if (factors.length - kept.length < 2 && !others) return expression;
  return rest.reduce((left, right) => ({ ...expression, left, right }), first);
}

function factorsOf(expression: Expression): Expression[] {
  return expression.kind === 'binary' && expression.op === '*'
    ? [...factorsOf(expression.left), ...factorsOf(expression.right)]
    : [expression];
}

function isOne(factor: Expression, values: Readonly<Record<string, PutIn>>): boolean {
  if (factor.kind !== 'name' || !Object.hasOwn(values, factor.name)) return false;
  const value = values[factor.name];
  return value?.coefficients === undefined && value?.unit === '' && Number(value.number) === 1;
}
