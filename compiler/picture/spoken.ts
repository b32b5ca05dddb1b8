/** Formulas in words, for labels: what a reader would say aloud. */

import type { Equation, Expression } from '../language/syntax.ts';
import type { PutIn } from './formula.ts';
import { functionsSaid, operators, quantityText, unitText } from './symbols.ts';

type Values = Readonly<Record<string, PutIn>>;

/** "gain times open bracket 1 plus s over zero, close bracket"; values stand for the names of settings. */
export function formulaSpoken(expression: Expression, values: Values = {}): string {
  return say(expression, values);
}

/** "y equals …", "next x equals …", "the rate of change of x equals …". */
export function equationSpoken(equation: Equation, values: Values = {}): string {
  const name = nameSaid(equation.name);
  const left =
    equation.kind === 'next' ? `next ${name}` : equation.kind === 'rate' ? `the rate of change of ${name}` : name;
  return `${left} equals ${say(equation.value, values)}`;
}

function nameSaid(name: string): string {
  return name === 'dt' ? 'its period' : name.replace(/[_.]/g, ' ');
}

function say(expression: Expression, values: Values): string {
  const inner = (each: Expression) => say(each, values);
  switch (expression.kind) {
    case 'number':
      return quantityText(
        /^[+-]?[\d.]+(?:[eE][+-]?\d+)?/.exec(expression.text)?.[0] ?? expression.text,
        expression.unit === undefined ? '' : expression.unit.text,
      );
    case 'name': {
      const value = Object.hasOwn(values, expression.name) ? values[expression.name] : undefined;
      return value === undefined
        ? nameSaid(expression.name)
        : `${value.number.replace('-', '−')} ${unitText(value.unit)}`.trim();
    }
    case 'word':
      return expression.word;
    case 'unary':
      return `${expression.op === 'not' ? 'not' : 'minus'} ${held(expression.arg, values)}`;
    case 'binary':
      return binary(expression, values);
    case 'choose':
      return `${inner(expression.then)} if ${inner(expression.condition)}, otherwise ${inner(expression.else)}`;
    case 'call':
      return call(expression.name, expression.args.map(inner));
    case 'index':
      return `${inner(expression.base)} at ${expression.indices.map(inner).join(', ')}`;
    case 'matrix':
      return `matrix with rows ${expression.rows.map((cells) => cells.map(inner).join(', ')).join('; ')}`;
    case 'each':
      return `${inner(expression.body)} for each ${expression.variable} ${
        'in' in expression.over ? `in ${nameSaid(expression.over.in)}` : `from 1 to ${inner(expression.over.to)}`
      }`;
    case 'fold':
      return `${inner(expression.body)}, for each ${expression.variable} in ${nameSaid(expression.list)} in turn, starting with ${inner(expression.start)}`;
    case 'is':
      return `${nameSaid(expression.name)} is ${expression.word}`;
  }
}

type Binary = Expression & { readonly kind: 'binary' };

function binary(expression: Binary, values: Values): string {
  const left = held(expression.left, values);
  const right = held(expression.right, values);
  switch (expression.op) {
    case '*':
      return `${left} times ${right}`;
    case '/':
      return `${left} over ${right}`;
    case '\\':
      return `${left} inverse times ${right}`;
    case '^':
      if (expression.right.kind === 'number' && expression.right.value === 2) return `${left} squared`;
      return `${left} to the power ${right}`;
    default: {
      const said = operators[expression.op]?.said ?? expression.op;
      return `${say(expression.left, values)} ${said} ${expression.op === '-' ? right : say(expression.right, values)}`;
    }
  }
}

/** A part that would be misheard without brackets. */
function held(expression: Expression, values: Values): string {
  const said = say(expression, values);
  const loose =
    expression.kind === 'choose' ||
    (expression.kind === 'binary' && expression.op !== '*' && expression.op !== '^' && expression.op !== '/');
  return loose ? `the quantity ${said}, end` : said;
}

function call(name: string, args: readonly string[]): string {
  const said = functionsSaid[name] ?? nameSaid(name);
  if (name === 'exp') return `${said} ${args.join(', ')}`;
  return `${said} of ${args.length > 1 ? `${args.slice(0, -1).join(', ')} and ${args.at(-1)}` : args.join('')}`;
}
