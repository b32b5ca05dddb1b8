/** Derivatives of sums, by mathjs: it sees names and whole powers only, so no number of it can reach a program. */

import {
  ConstantNode,
  derivative,
  FunctionNode,
  isConstantNode,
  isFunctionNode,
  isOperatorNode,
  isParenthesisNode,
  isSymbolNode,
  type MathNode,
  OperatorNode,
  SymbolNode,
} from 'mathjs/number';
import { printExpression } from '../language/print.ts';
import { decimal } from '../language/rational.ts';
import type { Expression } from '../language/syntax.ts';
import {
  type Atom,
  add,
  called,
  constant,
  fraction,
  multiply,
  NoSum,
  named,
  namesOf,
  negated,
  numberOf,
  opaque,
  raised,
  type Sum,
  subtract,
  whole,
  zero,
} from './motion_terms.ts';

/** Functions of the block language that have a derivative here. */
export const smoothFunctions: ReadonlySet<string> = new Set(
  'sin cos tan asin acos atan exp log sqrt abs pow hypot'.split(' '),
);

/**
 * An expression as a sum. What has no derivative throws `NoSum`; with `taken` it is taken as it is written instead, as a
 * generalised force may be.
 */
export function sumOf(e: Expression, taken = false): Sum {
  const of = (inner: Expression): Sum => sumOf(inner, taken);
  switch (e.kind) {
    case 'number': {
      const exact = e.unit === undefined ? decimal(e.text) : undefined;
      return exact === undefined ? opaque(printExpression(e), e) : constant(exact);
    }
    case 'name':
      return named(e.name);
    case 'unary':
      if (e.op === '-') return negated(of(e.arg));
      break;
    case 'binary':
      switch (e.op) {
        case '+':
          return add(of(e.left), of(e.right));
        case '-':
          return subtract(of(e.left), of(e.right));
        case '*':
          return multiply(of(e.left), of(e.right));
        case '/':
          return multiply(of(e.left), raised(of(e.right), -1));
        case '^':
          return power(of(e.left), of(e.right));
      }
      break;
    case 'call': {
      if (!smoothFunctions.has(e.name)) break;
      const args = e.args.map(of);
      const [first = zero, second] = args;
      if (e.name === 'hypot') return called('sqrt', [add(...args.map((arg) => raised(arg, 2)))]);
      if (e.name === 'pow' && second !== undefined) return power(first, second);
      return called(e.name, args);
    }
  }
  if (taken) return opaque(printExpression(e), e);
  throw new NoSum('motion_not_smooth', e.kind === 'call' ? `${e.name}(…)` : printExpression(e));
}

function power(base: Sum, exponent: Sum): Sum {
  const value = numberOf(exponent);
  return value?.den === 1n ? raised(base, Number(value.num)) : called('pow', [base, exponent]);
}

/** ∂sum/∂name, everything else held. */
export function slope(sum: Sum, name: string): Sum {
  const opaques = new Map<string, Atom>();
  const parts: Sum[] = [];
  for (const [key, term] of sum) {
    const one: Sum = new Map([[key, term]]);
    if (!namesOf(one).has(name)) continue;
    const node = derivative(nodeOf(one, opaques), new SymbolNode(name), { simplify: false });
    parts.push(read(node, opaques));
  }
  return add(...parts);
}

/** The sum as nodes: coefficients travel as symbols such as `=1/2`, what is opaque by its key. */
function nodeOf(sum: Sum, opaques: Map<string, Atom>): MathNode {
  const terms = [...sum.values()].map(({ coefficient: { num, den }, factors }) =>
    [...factors.values()].reduce<MathNode>(
      (product, factor) => {
        const base = nodeOfAtom(factor.atom, opaques);
        const raisedBase =
          factor.power === 1 ? base : new OperatorNode('^', 'pow', [base, new ConstantNode(factor.power)]);
        return new OperatorNode('*', 'multiply', [product, raisedBase]);
      },
      new SymbolNode(`=${num}/${den}`),
    ),
  );
  return terms.length === 0
    ? new SymbolNode('=0/1')
    : terms.reduce((total, term) => new OperatorNode('+', 'add', [total, term]));
}

function nodeOfAtom(atom: Atom, opaques: Map<string, Atom>): MathNode {
  switch (atom.kind) {
    case 'name':
      return new SymbolNode(atom.name);
    case 'call':
      return new FunctionNode(
        new SymbolNode(atom.func),
        atom.args.map((arg) => nodeOf(arg, opaques)),
      );
    case 'sum':
      return nodeOf(atom.of, opaques);
    case 'opaque':
      opaques.set(atom.key, atom);
      return new SymbolNode(`:${atom.key}`);
  }
}

/** What a derivative's nodes say, as a sum. */
function read(node: MathNode, opaques: ReadonlyMap<string, Atom>): Sum {
  const of = (inner: MathNode | undefined): Sum => (inner === undefined ? zero : read(inner, opaques));
  if (isParenthesisNode(node)) return of(node.content);
  if (isConstantNode(node)) {
    if (!Number.isSafeInteger(node.value)) throw new Error(`a derivative brought the number ${String(node.value)}`);
    return whole(Number(node.value));
  }
  if (isSymbolNode(node)) return symbol(node.name, opaques);
  if (isFunctionNode(node)) {
    const args = node.args.map(of);
    return node.fn.name === 'sec' ? raised(called('cos', args), -1) : called(node.fn.name, args);
  }
  if (!isOperatorNode(node)) throw new Error(`a derivative brought a ${node.type}`);
  const [left, right] = node.args as readonly MathNode[];
  switch (node.op) {
    case '+':
      return add(...(node.args as readonly MathNode[]).map(of));
    case '-':
      return right === undefined ? negated(of(left)) : subtract(of(left), of(right));
    case '*':
      return (node.args as readonly MathNode[]).map(of).reduce(multiply, whole(1));
    case '/':
      if (left !== undefined && isSignOf(left, right)) return called('sign', [of(right)]);
      return multiply(of(left), raised(of(right), -1));
    case '^':
      return power(of(left), of(right));
    default:
      throw new Error(`a derivative brought the operator ${String(node.op)}`);
  }
}

/** The slope of `abs(u)` comes as `abs(u) / u`, which has no value at 0. */
function isSignOf(above: MathNode, below: MathNode | undefined): boolean {
  if (!isFunctionNode(above) || above.fn.name !== 'abs') return false;
  return below !== undefined && above.args[0]?.equals(below) === true;
}

function symbol(name: string, opaques: ReadonlyMap<string, Atom>): Sum {
  const [, num, den] = /^=(-?\d+)\/(\d+)$/.exec(name) ?? [];
  if (num !== undefined && den !== undefined) return constant(fraction(BigInt(num), BigInt(den)));
  if (!name.startsWith(':')) return named(name);
  const atom = opaques.get(name.slice(1));
  if (atom?.kind !== 'opaque') throw new Error(`a derivative brought the name ${name}`);
  return opaque(atom.key, atom.expression);
}
