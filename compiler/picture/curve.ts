/** The little curve of a block: its first output over its first input, worked out from its equations. */

import type { BlockText, Expression } from '../language/syntax.ts';
import type { CurveCorner, CurveDescription } from './card_size.ts';
import type { Point } from './marks.ts';

type Value = number | boolean | readonly number[];
type Known = ReadonlyMap<string, Value>;

/** Odd, so that the middle is met. */
const SAMPLES = 241;
/** Longest list that is worked out. */
const LONGEST = 100;

/**
 * `numbers` holds the settings' values in SI, `shown` how they are written on the card. Undefined where the equations
 * need more than this small reader knows, or give nothing finite.
 */
export function curveOf(
  block: BlockText,
  numbers: Readonly<Record<string, number>>,
  lists: Readonly<Record<string, readonly number[]>>,
  shown: Readonly<Record<string, string>>,
): CurveDescription | undefined {
  const input = block.inputs.find((each) => each.type.base === 'real');
  const output = block.outputs.find((each) => each.type.base === 'real');
  if (input === undefined || output === undefined) return undefined;
  const sizes = sizesOf(block, lists);
  const at = (x: number): number | undefined => {
    const known = new Map<string, Value>([...Object.entries(numbers), ...Object.entries(lists), ...sizes]);
    known.set(input.name, x).set('dt', 1).set('first', false).set('pi', Math.PI).set('unlimited', Infinity);
    const y = new Reader(block, known).read(output.name);
    return typeof y === 'number' && Number.isFinite(y) ? y : undefined;
  };
  const [low, high] = extent([...Object.values(numbers), ...Object.values(lists).flat()]);
  const points = sample(at, low, high);
  if (points.length < SAMPLES / 2) return undefined;
  return { points: simplified(points), corners: corners(block, points, numbers, shown) };
}

/** From which input to which: so that every setting of the block is well inside. */
function extent(numbers: readonly number[]): readonly [number, number] {
  const finite = numbers.filter((value) => Number.isFinite(value) && value !== 0);
  const low = Math.min(0, ...finite);
  const high = Math.max(0, ...finite);
  if (low < 0 && high > 0) return [1.75 * low, 1.75 * high];
  const size = Math.max(high, -low) || 1;
  return low < 0 || finite.length === 0 ? [-1.75 * size, 1.75 * size] : [Math.min(-1.75 * size, 0), 1.75 * size];
}

/** Size letters of settings that are lists. */
function sizesOf(block: BlockText, lists: Readonly<Record<string, readonly number[]>>): [string, number][] {
  return block.settings.flatMap((setting): [string, number][] => {
    const [size] = setting.type.shape;
    const list = lists[setting.name];
    return size?.kind === 'name' && list !== undefined ? [[size.name, list.length]] : [];
  });
}

function sample(at: (x: number) => number | undefined, low: number, high: number): Point[] {
  const points: Point[] = [];
  for (let i = 0; i < SAMPLES; i++) {
    const x = low + ((high - low) * i) / (SAMPLES - 1);
    const y = at(x);
    if (y !== undefined) points.push({ x, y });
  }
  return points;
}

/** Points in the middle of straight stretches are left out. */
function simplified(points: readonly Point[]): Point[] {
  const height = Math.max(...points.map((point) => Math.abs(point.y)), 1e-300);
  return points.filter((point, i) => {
    const before = points[i - 1];
    const after = points[i + 1];
    return before === undefined || after === undefined || Math.abs(before.y + after.y - 2 * point.y) > 1e-9 * height;
  });
}

/** Kinks at the value of a setting, as an input or as an output; each setting once. */
function corners(
  block: BlockText,
  points: readonly Point[],
  numbers: Readonly<Record<string, number>>,
  shown: Readonly<Record<string, string>>,
): CurveCorner[] {
  const step = (points[1]?.x ?? 1) - (points[0]?.x ?? 0);
  const height = Math.max(...points.map((point) => Math.abs(point.y)), 1e-300);
  const settings = block.settings.filter((setting) => fitsAnAxis(block, setting.type.unit?.text));
  const found = new Map<string, { readonly corner: CurveCorner; readonly miss: number }>();
  const bends = points.map((_, i) => bendAt(points, i));
  points.forEach((point, i) => {
    const around = bends.slice(Math.max(0, i - 6), i + 7).reduce((sum, bend) => sum + bend, 0);
    const bend = bends[i] ?? 0;
    if (bend < 1e-3 * height || bend < 0.3 * around) return;
    for (const { name } of settings) {
      const value = numbers[name];
      const written = shown[name];
      if (value === undefined || written === undefined || value === 0) continue;
      const miss = Math.min(missOf(value, point, step, height), missOf(-value, point, step, height) + 0.5);
      if (miss > 2 || miss >= (found.get(name)?.miss ?? Infinity)) continue;
      found.set(name, { corner: { at: point, setting: name, value: written }, miss });
    }
  });
  return [...found.values()].map((each) => each.corner);
}

/** Whether a setting with this unit can be read off at the input's axis or at the output's. */
function fitsAnAxis(block: BlockText, unit: string | undefined): boolean {
  const [input] = block.inputs;
  const [output] = block.outputs;
  return unit === input?.type.unit?.text || unit === output?.type.unit?.text;
}

function bendAt(points: readonly Point[], i: number): number {
  const [before, point, after] = [points[i - 1], points[i], points[i + 1]];
  if (before === undefined || point === undefined || after === undefined) return 0;
  return Math.abs(before.y + after.y - 2 * point.y);
}

/** By how many samples a value misses a point. */
function missOf(value: number, point: Point, step: number, height: number): number {
  return Math.min(Math.abs(value - point.x) / step, (Math.abs(value - point.y) / height) * SAMPLES);
}

/** Evaluates equations of numbers, truths and lists; undefined where something is not known. */
class Reader {
  private readonly block: BlockText;
  private readonly known: Map<string, Value>;
  private readonly open = new Set<string>();

  constructor(block: BlockText, known: Known) {
    this.block = block;
    this.known = new Map(known);
  }

  read(name: string): Value | undefined {
    const value = this.known.get(name);
    if (value !== undefined || this.open.has(name)) return value;
    this.open.add(name);
    const equation = this.block.equations.find(
      (each) => each.name === name && (each.kind === 'plain' || each.kind === 'let'),
    );
    const source =
      equation?.value ??
      this.block.memories.find((memory) => memory.name === name)?.start ??
      this.block.settings.find((setting) => setting.name === name)?.value ??
      this.block.inputs.find((input) => input.name === name)?.fallback;
    const result = source === undefined ? undefined : this.value(source);
    this.open.delete(name);
    if (result !== undefined) this.known.set(name, result);
    return result;
  }

  private each(expression: Expression & { readonly kind: 'each' }): Value | undefined {
    const { over, variable } = expression;
    const limit = 'to' in over ? this.value(over.to) : undefined;
    const list = 'in' in over ? this.read(over.in) : undefined;
    const count = typeof limit === 'number' ? Math.min(limit, LONGEST) : 0;
    const elements = isList(list) ? list : Array.from({ length: Math.max(0, count) }, (_, i) => i + 1);
    const outer = this.known.get(variable);
    const values = elements.map((element) => {
      this.known.set(variable, element);
      return this.value(expression.body);
    });
    if (outer === undefined) this.known.delete(variable);
    else this.known.set(variable, outer);
    return numbersOnly(values);
  }

  private value(expression: Expression): Value | undefined {
    switch (expression.kind) {
      case 'number':
        return expression.value;
      case 'name':
        return expression.name === 'true' ? true : expression.name === 'false' ? false : this.read(expression.name);
      case 'unary': {
        const arg = this.value(expression.arg);
        if (expression.op === 'not') return typeof arg === 'boolean' ? !arg : undefined;
        return typeof arg === 'number' ? -arg : undefined;
      }
      case 'binary':
        return binary(expression.op, this.value(expression.left), this.value(expression.right));
      case 'choose': {
        const condition = this.value(expression.condition);
        if (typeof condition !== 'boolean') return undefined;
        return this.value(condition ? expression.then : expression.else);
      }
      case 'call': {
        const args = expression.args.map((arg) => this.value(arg));
        return called(expression.name, args);
      }
      case 'index': {
        const list = this.value(expression.base);
        const [at] = expression.indices.map((index) => this.value(index));
        return isList(list) && typeof at === 'number' ? list[at - 1] : undefined;
      }
      case 'matrix':
        return numbersOnly(expression.rows.map(([cell]) => (cell === undefined ? undefined : this.value(cell))));
      case 'each':
        return this.each(expression);
      default:
        return undefined;
    }
  }
}

function isList(value: Value | undefined): value is readonly number[] {
  return Array.isArray(value);
}

function numbersOnly(values: readonly (Value | undefined)[]): readonly number[] | undefined {
  const numbers = values.filter((value) => typeof value === 'number');
  return numbers.length === values.length ? numbers : undefined;
}

function binary(op: string, left: Value | undefined, right: Value | undefined): Value | undefined {
  if (typeof left === 'boolean' && typeof right === 'boolean') {
    if (op === 'and') return left && right;
    if (op === 'or') return left || right;
    return op === '==' ? left === right : op === '!=' ? left !== right : undefined;
  }
  if (typeof left !== 'number' || typeof right !== 'number') return undefined;
  switch (op) {
    case '+':
      return left + right;
    case '-':
      return left - right;
    case '*':
      return left * right;
    case '/':
      return left / right;
    case '^':
      return left ** right;
    case '==':
      return left === right;
    case '!=':
      return left !== right;
    case '<':
      return left < right;
    case '<=':
      return left <= right;
    case '>':
      return left > right;
    case '>=':
      return left >= right;
    default:
      return undefined;
  }
}

const functions: Readonly<Record<string, (...args: number[]) => Value>> = {
  sin: Math.sin,
  cos: Math.cos,
  tan: Math.tan,
  asin: Math.asin,
  acos: Math.acos,
  atan: Math.atan,
  atan2: Math.atan2,
  exp: Math.exp,
  log: Math.log,
  sqrt: Math.sqrt,
  abs: Math.abs,
  pow: Math.pow,
  hypot: Math.hypot,
  floor: Math.floor,
  ceil: Math.ceil,
  trunc: Math.trunc,
  round: (x) => Math.sign(x) * Math.floor(Math.abs(x) + 0.5),
  min: Math.min,
  max: Math.max,
  sign: Math.sign,
  finite: Number.isFinite,
  bare: (x) => x,
  real: (x) => x,
};

function called(name: string, args: readonly (Value | undefined)[]): Value | undefined {
  const [list] = args;
  if (name === 'sum' && isList(list)) return list.reduce((sum, each) => sum + each, 0);
  const numbers = args.filter((arg) => typeof arg === 'number');
  if (numbers.length !== args.length || !Object.hasOwn(functions, name)) return undefined;
  return functions[name]?.(...numbers);
}
