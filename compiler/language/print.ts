/** Writes syntax back as text; reading it again gives the same syntax, but for the spots. */

import type {
  BinaryOperator,
  BlockText,
  Bounds,
  Declaration,
  ExampleValue,
  Expression,
  TypeExpression,
} from './syntax.ts';

/** How tightly an expression binds; a looser one inside a tighter one needs brackets. */
const tightness: Readonly<Record<BinaryOperator, number>> = {
  or: 2,
  and: 3,
  '==': 5,
  '!=': 5,
  '<': 5,
  '<=': 5,
  '>': 5,
  '>=': 5,
  '+': 6,
  '-': 6,
  '*': 7,
  '/': 7,
  '\\': 7,
  '^': 9,
};
const loosest = 0;
const choice = 1;
const negation = 4;
const comparison = 5;
const sum = 6;
const minus = 8;
const power = 9;
const postfix = 10;

function tightnessOf(expression: Expression): number {
  switch (expression.kind) {
    case 'choose':
      return choice;
    case 'binary':
      return tightness[expression.op];
    case 'unary':
      return expression.op === 'not' ? negation : minus;
    case 'is':
      return comparison;
    case 'number':
      return expression.unit === undefined ? postfix : power;
    default:
      return postfix;
  }
}

const quote = (words: string): string => `"${words.replace(/["\\]/g, '\\$&')}"`;

/** An expression as text. */
export function printExpression(expression: Expression): string {
  return within(expression, loosest);
}

/** The text of `expression` where anything looser than `least` needs brackets. */
function within(expression: Expression, least: number): string {
  const text = bare(expression);
  return tightnessOf(expression) < least ? `(${text})` : text;
}

function bare(expression: Expression): string {
  switch (expression.kind) {
    case 'number':
      return expression.unit === undefined ? expression.text : `${expression.text} ${expression.unit.text}`;
    case 'name':
      return expression.name;
    case 'word':
      return quote(expression.word);
    case 'unary':
      return expression.op === 'not' ? `not ${within(expression.arg, negation)}` : `-${within(expression.arg, minus)}`;
    case 'binary':
      return printBinary(expression.op, expression.left, expression.right);
    case 'choose': {
      const { condition, then, else: otherwise } = expression;
      return `${within(condition, choice + 1)} ? ${within(then, loosest)} : ${within(otherwise, loosest)}`;
    }
    case 'call':
      return `${expression.name}(${expression.args.map(printExpression).join(', ')})`;
    case 'index':
      return `${within(expression.base, postfix)}[${expression.indices.map(printExpression).join(', ')}]`;
    case 'matrix': {
      const { rows } = expression;
      const separator = rows.every((row) => row.length === 1) ? ', ' : '; ';
      const single = rows.length === 1 && (rows[0]?.length ?? 0) > 1 ? ';' : '';
      return `[${rows.map((row) => row.map(printExpression).join(', ')).join(separator)}${single}]`;
    }
    case 'each': {
      const { body, variable, over } = expression;
      const range = 'to' in over ? `to ${printExpression(over.to)}` : `in ${over.in}`;
      return `[${printExpression(body)} for ${variable} ${range}]`;
    }
    case 'fold': {
      const { accumulator, start, variable, list, body } = expression;
      return `fold(${accumulator} = ${printExpression(start)}; ${variable} in ${list}; ${printExpression(body)})`;
    }
    case 'is':
      return `${expression.name} is ${quote(expression.word)}`;
  }
}

function printBinary(op: BinaryOperator, left: Expression, right: Expression): string {
  const own = tightness[op];
  if (op === '^') return `${within(left, postfix)}^${within(right, minus)}`;
  if (own === comparison) return `${within(left, sum)} ${op} ${within(right, sum)}`;
  return `${within(left, own)} ${op} ${within(right, own + 1)}`;
}

/** A type as it stands after a colon; empty for a real number without shape or unit. */
export function printType(type: TypeExpression): string {
  const shape = type.shape.length === 0 ? '' : `[${type.shape.map(printExpression).join(', ')}]`;
  const rest = type.base !== 'real' ? type.base : type.each ? 'each' : (type.unit?.text ?? '');
  return [shape, rest].filter((part) => part !== '').join(' ');
}

function declared(declaration: Declaration): string {
  const type = printType(declaration.type);
  return type === '' ? declaration.name : `${declaration.name}: ${type}`;
}

const ending = (words: string | undefined): string => (words === undefined ? '' : ` ${quote(words)}`);

function printBounds(bounds: Bounds): string {
  return (['above', 'below', 'from', 'to'] as const)
    .map((word) => (bounds[word] === undefined ? '' : ` ${word} ${printExpression(bounds[word])}`))
    .join('');
}

const exampleValues = (values: readonly ExampleValue[]): string =>
  values.map(({ name, value, about }) => `${name} ${about ? 'about ' : ''}${printExpression(value)}`).join(', ');

const equationWord = { plain: '', next: 'next ', rate: 'd/dt ', let: 'let ', law: 'law ' } as const;

/** A whole block text, its statements in their usual order. */
export function printBlock(block: BlockText): string {
  const lines: string[] = [`block ${block.name}`];
  if (block.purpose !== '') lines.push(`  ${quote(block.purpose)}`);
  if (block.label !== undefined) lines.push(`  called ${quote(block.label)}`);
  if (block.source !== undefined) lines.push(`  source ${quote(block.source)}`);
  if (block.side !== undefined) lines.push(`  side ${block.side}`);
  if (block.guards) lines.push('  guards');
  if (block.harmless) lines.push('  harmless');
  if (block.analysedIn !== undefined) lines.push(`  analysed in ${block.analysedIn}`);
  if (block.drawnAs !== undefined) lines.push(`  drawn as ${block.drawnAs}`);
  for (const each of block.inputs) {
    const fallback = each.fallback === undefined ? '' : ` = ${printExpression(each.fallback)}`;
    lines.push(`in ${declared(each)}${fallback}${ending(each.words)}`);
  }
  for (const each of block.openInputs) {
    const kinds = each.kinds.length === 0 ? '' : ` as ${each.kinds.map(quote).join(', ')}`;
    lines.push(`inputs ${declared(each)}${kinds}${ending(each.words)}`);
  }
  for (const each of block.outputs) lines.push(`out ${declared(each)}${ending(each.words)}`);
  for (const each of block.openOutputs) lines.push(`outputs ${declared(each)}${ending(each.words)}`);
  for (const each of block.settings) {
    const value = printExpression(each.value);
    lines.push(`set ${declared(each)} = ${value}${printBounds(each.bounds)}${ending(each.words)}`);
  }
  for (const each of block.builds) {
    const type = each.type === 'word' ? each.words.map(quote).join(', ') : each.type;
    const value = printExpression(each.value);
    lines.push(`build ${each.name}: ${type} = ${value}${printBounds(each.bounds)}${ending(each.purpose)}`);
  }
  for (const each of block.channels) {
    const start = each.start === undefined ? '' : ` = ${printExpression(each.start)}`;
    lines.push(`channel ${each.direction} ${each.name}: ${each.type}${start}`);
  }
  for (const each of block.memories) {
    const length = each.length === undefined ? '' : ` length ${printExpression(each.length)}`;
    lines.push(`${each.kind} ${declared(each)} = ${printExpression(each.start)}${length}${ending(each.words)}`);
  }
  for (const each of block.equations)
    lines.push(`${equationWord[each.kind]}${each.name} = ${printExpression(each.value)}`);
  if (block.modes.length > 0) lines.push(`mode ${block.modes.join(', ')}`);
  for (const each of block.transitions)
    lines.push(`from ${each.from.join(', ')} to ${each.to} when ${printExpression(each.when)}`);
  for (const each of block.needs) lines.push(`needs ${printExpression(each.condition)} ${quote(each.words)}`);
  for (const each of block.sayings) {
    const left = each.left === undefined ? '' : ` left ${printExpression(each.left)}`;
    lines.push(`say ${printExpression(each.condition)} ${quote(each.words)}${left}`);
  }
  for (const example of block.examples) {
    const heads = [
      ...(example.settings.length === 0 ? [] : [exampleValues(example.settings)]),
      ...(example.every === undefined ? [] : [`every ${printExpression(example.every)}`]),
      ...example.inputs.map(({ name, kind }, i) => `${i === 0 ? 'inputs ' : ''}${name} ${quote(kind)}`),
    ];
    const steps = example.steps.map(({ inputs, ticks, outputs }) =>
      [
        ...(inputs.length === 0 ? [] : [exampleValues(inputs)]),
        ...(ticks === 1 ? [] : [`for ${ticks} ticks`]),
        ...(outputs.length === 0 ? [] : [`gives ${exampleValues(outputs)}`]),
      ].join(' '),
    );
    lines.push(`example${heads.length === 0 ? '' : ` ${heads.join(', ')}`}: ${steps.join('; ')}`);
  }
  return `${lines.join('\n')}\n`;
}
