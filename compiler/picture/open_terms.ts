/** Laws of blocks with open-ended inputs, written out for the inputs the sheet names: `sum([…for t in terms])` as a sum. */

import type { BinaryOperator, Equation, Expression, Spot } from '../language/syntax.ts';

/** Open-ended inputs as the sheet has them: names in order, each with its kind. */
export interface OpenTerm {
  readonly name: string;
  readonly kind: string;
}

type Terms = ReadonlyMap<string, readonly OpenTerm[]>;

/** The equation with every list over open-ended inputs written out; `lists` are by the name in the block's text. */
export function writtenOut(equation: Equation, lists: Terms): Equation {
  return { ...equation, value: write(equation.value, lists, new Map()) };
}

/** What stands for a variable while a list is written out. */
type Bound = ReadonlyMap<string, OpenTerm>;

function write(expression: Expression, lists: Terms, bound: Bound): Expression {
  const inner = (each: Expression) => write(each, lists, bound);
  switch (expression.kind) {
    case 'name': {
      const term = bound.get(expression.name);
      if (term !== undefined) return { ...expression, name: term.name };
      const list = lists.get(expression.name);
      return list === undefined
        ? expression
        : listOf(
            list.map((each) => nameOf(each.name, expression.at)),
            expression.at,
          );
    }
    case 'is': {
      const term = bound.get(expression.name);
      return term === undefined ? expression : truth(term.kind === expression.word, expression.at);
    }
    case 'choose': {
      const condition = inner(expression.condition);
      if (isTruth(condition)) return inner(condition.name === 'true' ? expression.then : expression.else);
      // biome-ignore lint/suspicious/noThenProperty: a branch of the language, never awaited
      return { ...expression, condition, then: inner(expression.then), else: inner(expression.else) };
    }
    case 'unary':
      return { ...expression, arg: inner(expression.arg) };
    case 'binary':
      return { ...expression, left: inner(expression.left), right: inner(expression.right) };
    case 'index':
      return { ...expression, base: inner(expression.base), indices: expression.indices.map(inner) };
    case 'matrix':
      return { ...expression, rows: expression.rows.map((cells) => cells.map(inner)) };
    case 'each': {
      const list = 'in' in expression.over ? lists.get(expression.over.in) : undefined;
      if (list === undefined) return { ...expression, body: inner(expression.body) };
      const bodies = list.map((term) =>
        write(expression.body, lists, new Map([...bound, [expression.variable, term]])),
      );
      return listOf(bodies, expression.at);
    }
    case 'call':
      return reduced({ ...expression, args: expression.args.map(inner) });
    default:
      return expression;
  }
}

function listOf(cells: readonly Expression[], at: Spot): Expression {
  return { kind: 'matrix', rows: cells.map((cell) => [cell]), at };
}

function nameOf(name: string, at: Spot): Expression {
  return { kind: 'name', name, at };
}

function truth(value: boolean, at: Spot): Expression {
  return nameOf(String(value), at);
}

function isTruth(expression: Expression): expression is Expression & { readonly kind: 'name' } {
  return expression.kind === 'name' && (expression.name === 'true' || expression.name === 'false');
}

const chains: Readonly<Record<string, BinaryOperator>> = { sum: '+', product: '*', all: 'and', any: 'or' };

/** A reduction of a list that is written out: as a chain, a count, or a call with the elements as its arguments. */
function reduced(call: Expression & { readonly kind: 'call' }): Expression {
  const [list] = call.args;
  if (list?.kind !== 'matrix' || call.args.length !== 1 || list.rows.some((cells) => cells.length !== 1)) return call;
  const elements = list.rows.flat();
  if (call.name === 'count')
    return { kind: 'number', value: elements.length, unit: undefined, text: String(elements.length), at: call.at };
  if (elements.length > 1 && (call.name === 'min' || call.name === 'max')) return { ...call, args: elements };
  const op = chains[call.name];
  const [first, ...rest] = positiveFirst(elements, op);
  if (op === undefined || first === undefined) return call;
  return rest.reduce((chain, each) => joined(chain, op, each, call.at), first);
}

/** A sum that begins with a minus reads worse than one that does not. */
function positiveFirst(elements: readonly Expression[], op: BinaryOperator | undefined): readonly Expression[] {
  if (op !== '+') return elements;
  const plus = elements.findIndex((each) => !(each.kind === 'unary' && each.op === '-'));
  const first = elements[plus];
  return first === undefined ? elements : [first, ...elements.filter((each) => each !== first)];
}

function joined(left: Expression, op: BinaryOperator, right: Expression, at: Spot): Expression {
  if (op === '+' && right.kind === 'unary' && right.op === '-')
    return { kind: 'binary', op: '-', left, right: right.arg, at };
  return { kind: 'binary', op, left, right, at };
}
