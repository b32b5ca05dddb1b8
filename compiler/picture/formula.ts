/** An expression of the block language as typeset mathematics: a box with its size, and the runs and rules to draw. */

import type { BinaryOperator, Equation, Expression } from '../language/syntax.ts';
import type { Box, Rule, Run } from './box.ts';
import { axisOf, bracketed, dotted, fraction, grid, root, row, scripts, space, text, underlined } from './box.ts';
import { mathConstants } from './glyphs.ts';
import { functionNames, nameParts, operators, unitText } from './symbols.ts';

export type { Rule, Run } from './box.ts';

export interface Formula {
  readonly width: number;
  /** Above and below the baseline. */
  readonly ascent: number;
  readonly descent: number;
  /** How far above the baseline bars of fractions and arms of plus signs are. */
  readonly axis: number;
  readonly runs: readonly Run[];
  readonly rules: readonly Rule[];
}

/** A setting's value to stand in place of its name. */
export interface PutIn {
  /** `-5e-4`. */
  readonly number: string;
  /** As printed; empty where it is the unit the setting has anyway. */
  readonly unit: string;
  /** Of a list, as written: `num(s)` in a law is the polynomial with these, descending powers. */
  readonly coefficients?: readonly string[];
}

export interface FormulaOptions {
  /** Font size, px; 15 if unsaid. */
  readonly size?: number;
  /** Sums and conditions wider than this are broken into lines, px. */
  readonly maxWidth?: number;
  /** Values that stand in place of names, by the name of the setting. */
  readonly values?: Readonly<Record<string, PutIn>>;
  /** Names that are rates of change of others, by their name: written as those with a dot or two. */
  readonly rates?: Readonly<Record<string, Rate>>;
}

/** What a name is the first or second rate of change of. */
export interface Rate {
  readonly of: string;
  readonly order: 1 | 2;
}

const DEFAULT_SIZE = 15;

/** Typesets an expression. */
export function layoutFormula(expression: Expression, options: FormulaOptions = {}): Formula {
  const style = styleFrom(options);
  return finished(broken(expression, style, options.maxWidth ?? Infinity), style.size);
}

/** Typesets an equation: `y = …`, `x⁺ = …`, `ẋ = …`. */
export function layoutEquation(equation: Equation, options: FormulaOptions = {}): Formula {
  const style = styleFrom(options);
  const equals = row([left(equation, style), ...spaced('=', style, 0.28)]);
  const { value } = equation;
  // Two equals signs in a row would read as a chain.
  const isEquality = value.kind === 'binary' && value.op === '==';
  const right = isEquality
    ? bracketed('(', layout(value, style), ')', style.size)
    : broken(value, style, (options.maxWidth ?? Infinity) - equals.width);
  return finished(row([equals, right]), style.size);
}

function finished(box: Box, size: number): Formula {
  const { width, ascent, descent, runs, rules } = box;
  return { width: width + Math.max(0, box.lean ?? 0), ascent, descent, axis: axisOf(size), runs, rules };
}

interface Style {
  readonly size: number;
  /** 0 for text, 1 for scripts, 2 for scripts of scripts. */
  readonly level: number;
  /** Inside a fraction quotients of plain things are written with a slash. */
  readonly inFraction: boolean;
  readonly values: Readonly<Record<string, PutIn>>;
  readonly rates: Readonly<Record<string, Rate>>;
}

function styleFrom(options: FormulaOptions): Style {
  return {
    size: options.size ?? DEFAULT_SIZE,
    level: 0,
    inFraction: false,
    values: options.values ?? {},
    rates: options.rates ?? {},
  };
}

function smaller(style: Style): Style {
  const base = style.level === 0 ? 100 : mathConstants.scriptScale;
  const next = style.level === 0 ? mathConstants.scriptScale : mathConstants.scriptScriptScale;
  return { ...style, size: (style.size * next) / base, level: Math.min(2, style.level + 1), inFraction: true };
}

/** How tightly an expression holds together, loosest first. */
const strength = { choose: 0, or: 1, and: 2, not: 3, compare: 4, sum: 5, product: 6, negative: 7, power: 8, whole: 9 };

function strengthOf(expression: Expression, style: Style): number {
  switch (expression.kind) {
    case 'choose':
      return strength.choose;
    case 'unary':
      return expression.op === 'not' ? strength.not : strength.negative;
    case 'binary':
      return binaryStrength(expression.op);
    case 'number':
      return numeral(expression.text).startsWith('-') ? strength.negative : strength.whole;
    case 'name':
      return putIn(expression.name, style)?.number.startsWith('-') === true ? strength.negative : strength.whole;
    case 'is':
      return strength.compare;
    case 'call':
      return isLongPolynomial(expression.name, style) ? strength.sum : strength.whole;
    default:
      return strength.whole;
  }
}

function isLongPolynomial(called: string, style: Style): boolean {
  const value = Object.hasOwn(style.values, called) ? style.values[called] : undefined;
  return (value?.coefficients?.filter((each) => Number(each) !== 0).length ?? 0) > 1;
}

function binaryStrength(op: BinaryOperator): number {
  if (op === 'or') return strength.or;
  if (op === 'and') return strength.and;
  if (op === '+' || op === '-') return strength.sum;
  if (op === '*' || op === '/' || op === '\\') return strength.product;
  return op === '^' ? strength.power : strength.compare;
}

function putIn(name: string, style: Style): PutIn | undefined {
  const value = Object.hasOwn(style.values, name) ? style.values[name] : undefined;
  return value?.coefficients === undefined ? value : undefined;
}

/** In brackets where it holds less tightly than its surroundings need. */
function within(expression: Expression, style: Style, needed: number): Box {
  const box = layout(expression, style);
  return strengthOf(expression, style) < needed ? bracketed('(', box, ')', style.size) : box;
}

function spaced(sign: string, style: Style, gap: number): Box[] {
  const width = (style.level === 0 ? gap : gap / 2) * style.size;
  return [space(width), text(sign, style.size, 'upright'), space(width)];
}

function layout(expression: Expression, style: Style): Box {
  switch (expression.kind) {
    case 'number':
      return number(numeral(expression.text), expression.unit === undefined ? '' : unitText(expression.unit), style);
    case 'name':
      return name(expression.name, style);
    case 'word':
      return text(expression.word, style.size, 'upright');
    case 'unary':
      return expression.op === 'not'
        ? row([
            text('not', style.size, 'upright'),
            space(0.25 * style.size),
            within(expression.arg, style, strength.not),
          ])
        : row([text('−', style.size, 'upright'), within(expression.arg, style, strength.product)]);
    case 'binary':
      return binary(expression, style);
    case 'choose':
      return cases(expression, style);
    case 'call':
      return call(expression, style);
    case 'index':
      return scripts(
        within(expression.base, style, strength.whole),
        undefined,
        list(expression.indices, smaller(style)),
        style.size,
      );
    case 'matrix':
      return matrix(expression.rows, style);
    case 'each':
      return scripts(
        bracketed('[', layout(expression.body, style), ']', style.size),
        undefined,
        range(expression, smaller(style)),
        style.size,
      );
    case 'fold':
      return row([
        text('fold', style.size, 'upright'),
        bracketed('(', layout(expression.body, style), ')', style.size),
      ]);
    case 'is':
      return row([
        name(expression.name, style),
        ...spaced('is', style, 0.25),
        text(expression.word, style.size, 'upright'),
      ]);
  }
}

/** The digits of a number as written, without its unit. */
function numeral(written: string): string {
  return /^[+-]?[\d.]+(?:[eE][+-]?\d+)?/.exec(written.trim())?.[0] ?? written;
}

function number(digits: string, unit: string, style: Style, setting?: string): Box {
  const [mantissa = '', exponent] = digits.toLowerCase().split('e');
  const size = style.size;
  const plain = text(mantissa.replace('-', '−'), size, 'upright', setting);
  const parts = [plain];
  if (exponent !== undefined) {
    const power = text(exponent.replace('+', '').replace('-', '−'), smaller(style).size, 'upright', setting);
    parts.push(
      text('·', size, 'upright', setting),
      scripts(text('10', size, 'upright', setting), power, undefined, size),
    );
  }
  if (unit !== '') parts.push(space(unit.startsWith('°') ? 0 : 0.17 * size), text(unit, size, 'upright', setting));
  return row(parts);
}

function name(written: string, style: Style): Box {
  const value = putIn(written, style);
  if (value !== undefined) return underlined(number(value.number, value.unit, style, written), style.size, written);
  if (written.includes('.')) return text(written, style.size, 'upright');
  if (written === 'true' || written === 'false') return text(written, style.size, 'upright');
  const rate = rateOf(written, style);
  const { head, sub } = nameParts(rate?.of ?? written);
  const letters = text(head, style.size, written === 'pi' ? 'upright' : 'italic');
  const base = rate === undefined ? letters : dotted(letters, style.size, rate.order);
  if (sub === undefined) return base;
  const below = smaller(style);
  return scripts(base, undefined, text(sub, below.size, /^[A-Za-zα-ω]$/.test(sub) ? 'italic' : 'upright'), style.size);
}

function rateOf(written: string, style: Style): Rate | undefined {
  return Object.hasOwn(style.rates, written) ? style.rates[written] : undefined;
}

type Binary = Expression & { readonly kind: 'binary' };

function binary(expression: Binary, style: Style): Box {
  const { op } = expression;
  switch (op) {
    case '/':
      return quotient(expression.left, expression.right, style);
    case '*':
      return product(expression, style);
    case '^':
      return power(expression.left, expression.right, style);
    case '\\':
      return row([
        scripts(
          within(expression.left, style, strength.whole),
          text('−1', smaller(style).size, 'upright'),
          undefined,
          style.size,
        ),
        space(0.17 * style.size),
        within(expression.right, style, strength.product),
      ]);
    default:
      return row(terms(expression, style).flatMap((term) => [...term.sign, term.box]));
  }
}

interface Term {
  readonly sign: readonly Box[];
  readonly box: Box;
}

/** A chain of one strength, such as a sum, as its terms with the operators before them. */
function terms(expression: Expression, style: Style): Term[] {
  if (expression.kind !== 'binary') return [{ sign: [], box: layout(expression, style) }];
  const own = binaryStrength(expression.op);
  const sign = operators[expression.op];
  if (sign === undefined) return [{ sign: [], box: layout(expression, style) }];
  const chain =
    own !== strength.compare && expression.left.kind === 'binary' && binaryStrength(expression.left.op) === own;
  const first = chain ? terms(expression.left, style) : [{ sign: [], box: within(expression.left, style, own) }];
  const associative = expression.op === '+' || expression.op === 'and' || expression.op === 'or';
  const needed = own === strength.sum ? strength.product : associative ? own : own + 1;
  const right =
    own === strength.sum && isNegative(expression.right, style)
      ? bracketed('(', layout(expression.right, style), ')', style.size)
      : within(expression.right, style, needed);
  return [...first, { sign: spaced(sign.sign, style, sign.gap), box: right }];
}

function isNegative(expression: Expression, style: Style): boolean {
  return strengthOf(expression, style) === strength.negative;
}

/** Whether a quotient with it above or below may be written with a slash. */
function isPlain(expression: Expression): boolean {
  if (expression.kind === 'unary') return expression.op === '-' && isPlain(expression.arg);
  if (expression.kind === 'binary')
    return expression.op === '*' && isPlain(expression.left) && isPlain(expression.right);
  return expression.kind === 'number' || expression.kind === 'name' || expression.kind === 'index';
}

function quotient(above: Expression, below: Expression, style: Style): Box {
  if (style.inFraction && isPlain(above) && isPlain(below)) {
    const under = below.kind === 'binary' ? strength.whole : strength.negative + 1;
    return row([within(above, style, strength.product), text('/', style.size, 'upright'), within(below, style, under)]);
  }
  const inner = { ...style, inFraction: true };
  return fraction(layout(above, inner), layout(below, inner), style.size);
}

function product(expression: Binary, style: Style): Box {
  const { left, right } = expression;
  const rightNeeds = isNegative(right, style)
    ? strength.power
    : isQuotient(right)
      ? strength.product
      : strength.negative;
  return row([factor(left, style, strength.product), ...between(left, right, style), factor(right, style, rightNeeds)]);
}

function isQuotient(expression: Expression): boolean {
  return expression.kind === 'binary' && expression.op === '/';
}

/** A quotient beside other factors is never written with a slash: what is under it would not be clear. */
function factor(expression: Expression, style: Style, needed: number): Box {
  return within(
    expression,
    isQuotient(expression) && style.level === 0 ? { ...style, inFraction: false } : style,
    needed,
  );
}

/** What stands between two factors: a point before digits and between words, else a thin space. */
function between(before: Expression, after: Expression, style: Style): Box[] {
  const needsPoint = startsWithDigit(after, style) || (endsWithWord(before, style) && startsWithWord(after, style));
  return needsPoint ? spaced('·', style, 0.12) : [space(0.17 * style.size)];
}

function startsWithDigit(expression: Expression, style: Style): boolean {
  if (expression.kind === 'number') return true;
  if (expression.kind === 'name') return putIn(expression.name, style) !== undefined;
  if (expression.kind !== 'binary' || isQuotient(expression)) return false;
  return (expression.op === '*' || expression.op === '^') && startsWithDigit(expression.left, style);
}

function startsWithWord(expression: Expression, style: Style): boolean {
  if (expression.kind === 'binary')
    return (expression.op === '*' || expression.op === '^') && startsWithWord(expression.left, style);
  if (expression.kind === 'call') return !(expression.name in brackets) && expression.name !== 'sqrt';
  return isWord(expression, style);
}

function endsWithWord(expression: Expression, style: Style): boolean {
  if (expression.kind === 'binary') return expression.op === '*' && endsWithWord(expression.right, style);
  return isWord(expression, style);
}

function isWord(expression: Expression, style: Style): boolean {
  if (expression.kind === 'index') return isWord(expression.base, style);
  if (expression.kind !== 'name' || putIn(expression.name, style) !== undefined) return false;
  return nameParts(rateOf(expression.name, style)?.of ?? expression.name).word;
}

function power(base: Expression, exponent: Expression, style: Style): Box {
  return scripts(within(base, style, strength.whole), layout(exponent, smaller(style)), undefined, style.size);
}

type Choose = Expression & { readonly kind: 'choose' };

/** A brace with a line for each case. */
function cases(expression: Choose, style: Style): Box {
  const cell: Style = { ...style, size: style.level === 0 ? style.size * 0.92 : style.size, inFraction: true };
  const lines: Box[][] = [];
  let rest: Expression = expression;
  while (rest.kind === 'choose') {
    const condition = row([text('if', cell.size, 'upright'), space(0.3 * cell.size), layout(rest.condition, cell)]);
    lines.push([layout(rest.then, cell), condition]);
    rest = rest.else;
  }
  lines.push([layout(rest, cell), text('otherwise', cell.size, 'upright')]);
  const table = grid(lines, style.size, { columnGap: 0.9 * cell.size, rowGap: 0.3 * cell.size, align: 'left' });
  return row([bracketed('{', table, '', style.size), space(0.05 * style.size)]);
}

function matrix(rows: readonly (readonly Expression[])[], style: Style): Box {
  const cells = rows.map((cellsOfRow) => cellsOfRow.map((cell) => layout(cell, { ...style, inFraction: true })));
  const table = grid(cells, style.size, { columnGap: 0.7 * style.size, rowGap: 0.36 * style.size, align: 'middle' });
  return bracketed('[', row([space(0.1 * style.size), table, space(0.1 * style.size)]), ']', style.size);
}

/** Functions that mathematics writes as brackets. */
const brackets: Readonly<Record<string, readonly [string, string]>> = {
  abs: ['|', '|'],
  floor: ['⌊', '⌋'],
  ceil: ['⌈', '⌉'],
};

type Call = Expression & { readonly kind: 'call' };

function call(expression: Call, style: Style): Box {
  const [first, second] = expression.args;
  const { size } = style;
  if (first !== undefined && Object.hasOwn(brackets, expression.name)) {
    const [open, close] = brackets[expression.name] ?? ['(', ')'];
    return bracketed(open, layout(first, style), close, size);
  }
  if (first !== undefined && expression.name === 'sqrt') return root(layout(first, style), size);
  if (first !== undefined && expression.name === 'exp')
    return scripts(text('e', size, 'upright'), layout(first, smaller(style)), undefined, size);
  if (first !== undefined && second !== undefined && expression.name === 'pow') return power(first, second, style);
  if (first !== undefined && expression.name === 'transpose')
    return scripts(within(first, style, strength.whole), text('T', smaller(style).size, 'upright'), undefined, size);
  if (first !== undefined && (expression.name === 'bare' || expression.name === 'real')) return layout(first, style);
  if (first !== undefined && (expression.name === 'sum' || expression.name === 'product'))
    return reduction(expression, first, style);
  const coefficients = Object.hasOwn(style.values, expression.name)
    ? style.values[expression.name]?.coefficients
    : undefined;
  if (first !== undefined && coefficients !== undefined) return polynomial(coefficients, first, style, expression.name);
  const head = text(functionNames[expression.name] ?? expression.name, size, 'upright');
  const bare =
    expression.args.length === 1 &&
    first !== undefined &&
    first.kind === 'name' &&
    putIn(first.name, style) === undefined;
  if (bare && first !== undefined && angular.has(expression.name))
    return row([head, space(0.17 * size), layout(first, style)]);
  return row([head, space(0.03 * size), bracketed('(', list(expression.args, style), ')', size)]);
}

/** `s² + 2 s + 3` from its coefficients, highest power first. */
function polynomial(coefficients: readonly string[], variable: Expression, style: Style, setting: string): Box {
  const parts: Box[] = [];
  coefficients.forEach((written, i) => {
    const power = coefficients.length - 1 - i;
    if (Number(written) === 0 && coefficients.length > 1) return;
    const digits = written.replace(/^[+-]/, '');
    const isMinus = written.startsWith('-');
    if (parts.length > 0) parts.push(...spaced(isMinus ? '−' : '+', style, 0.22));
    else if (isMinus) parts.push(text('−', style.size, 'upright'));
    const isOne = Number(digits) === 1;
    if (power === 0 || !isOne) parts.push(number(digits, '', style, setting));
    if (power > 0 && !isOne) parts.push(space(0.17 * style.size));
    const base = layout(variable, style);
    const raised = power > 1 ? text(String(power), smaller(style).size, 'upright') : undefined;
    if (power > 0) parts.push(raised === undefined ? base : scripts(base, raised, undefined, style.size));
  });
  return parts.length === 0 ? text('0', style.size, 'upright') : row(parts);
}

/** Functions whose plain argument needs no brackets. */
const angular = new Set(['sin', 'cos', 'tan', 'log']);

function reduction(expression: Call, over: Expression, style: Style): Box {
  const sign = text(expression.name === 'sum' ? '∑' : '∏', style.size * 1.15, 'upright');
  const gap = space(0.12 * style.size);
  if (over.kind !== 'each') return row([sign, gap, within(over, style, strength.power)]);
  const below = range(over, smaller(style));
  return row([scripts(sign, undefined, below, style.size), gap, within(over.body, style, strength.product)]);
}

type Each = Expression & { readonly kind: 'each' };

function range(expression: Each, style: Style): Box {
  const variable = name(expression.variable, style);
  if ('in' in expression.over) return row([variable, ...spaced('in', style, 0.4), name(expression.over.in, style)]);
  return row([
    variable,
    ...spaced('=', style, 0.2),
    text('1…', style.size, 'upright'),
    layout(expression.over.to, style),
  ]);
}

function list(expressions: readonly Expression[], style: Style): Box {
  return row(
    expressions.flatMap((each, i) => [
      ...(i === 0 ? [] : [text(',', style.size, 'upright'), space(0.2 * style.size)]),
      layout(each, style),
    ]),
  );
}

/** The left side of an equation. */
function left(equation: Equation, style: Style): Box {
  const { size } = style;
  const own = name(equation.name, { ...style, values: {} });
  if (equation.kind === 'next') return scripts(own, text('+', smaller(style).size, 'upright'), undefined, size);
  if (equation.kind !== 'rate') return own;
  const { head, sub, word } = nameParts(equation.name);
  if (word)
    return fraction(
      row([text('d', size, 'upright'), space(0.1 * size), own]),
      row([text('d', size, 'upright'), text('t', size, 'italic')]),
      size,
    );
  const dot = dotted(text(head, size, 'italic'), size);
  if (sub === undefined) return dot;
  return scripts(dot, undefined, text(sub, smaller(style).size, sub.length === 1 ? 'italic' : 'upright'), size);
}

/** Breaks a sum or a chain of conditions that is too wide before its operators. */
function broken(expression: Expression, style: Style, maxWidth: number): Box {
  const whole = layout(expression, style);
  if (whole.width <= maxWidth || expression.kind !== 'binary' || operators[expression.op] === undefined) return whole;
  const lines: Box[][] = [[]];
  let width = 0;
  for (const term of pieces(expression, style)) {
    const added = row([...term.sign, term.box]);
    if (width > 0 && width + added.width > maxWidth) {
      lines.push([space(0.8 * style.size), ...term.sign.slice(1), term.box]);
      width = 0.8 * style.size + added.width;
    } else {
      lines.at(-1)?.push(added);
      width += added.width;
    }
  }
  return stack(lines.map(row), style.size);
}

/** What a line may end after: the terms of a sum or a chain; of a comparison, those of a sum on its left too. */
function pieces(expression: Binary, style: Style): Term[] {
  const chain = terms(expression, style);
  const { left, op } = expression;
  const isSum = left.kind === 'binary' && binaryStrength(left.op) === strength.sum;
  return binaryStrength(op) === strength.compare && isSum ? [...terms(left, style), ...chain.slice(1)] : chain;
}

/** Lines below each other; the first keeps its baseline. */
function stack(lines: readonly Box[], size: number): Box {
  let y = 0;
  let below = 0;
  const placed = lines.map((line, i) => {
    if (i > 0) y += below + 0.35 * size + Math.max(line.ascent, 0.6 * size);
    below = Math.max(line.descent, 0.15 * size);
    return {
      ...line,
      runs: moved(line.runs, y),
      rules: moved(line.rules, y),
      ascent: line.ascent - y,
      descent: line.descent + y,
    };
  });
  return {
    width: Math.max(0, ...lines.map((line) => line.width)),
    ascent: Math.max(0, ...placed.map((line) => line.ascent)),
    descent: Math.max(0, ...placed.map((line) => line.descent)),
    runs: placed.flatMap((line) => line.runs),
    rules: placed.flatMap((line) => line.rules),
  };
}

function moved<T extends { readonly y: number }>(things: readonly T[], down: number): T[] {
  return things.map((thing) => ({ ...thing, y: thing.y + down }));
}
