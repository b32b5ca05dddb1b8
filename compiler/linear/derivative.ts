/** A program run on numbers that carry their derivatives: exact Jacobians, no differences taken. */

import { host } from '../ir/host.ts';
import { clamp, toType } from '../ir/interpreter.ts';
import { operation } from '../ir/operations.ts';
import type { Func, Instruction, Program, Value } from '../ir/program.ts';

/** Derivatives by every direction; undefined where all are 0. */
type Gradient = Float64Array | undefined;

/** A piece of storage: values and the derivatives of each. */
interface Cells {
  readonly values: number[];
  readonly gradients: Gradient[];
}

/** Partial derivatives of the elementary functions, by their names without the type. */
const elementary: Readonly<Record<string, (x: number, y: number) => readonly number[]>> = {
  sin: (x) => [host.cos(x)],
  cos: (x) => [-host.sin(x)],
  tan: (x) => [1 + host.tan(x) ** 2],
  asin: (x) => [1 / Math.sqrt(1 - x * x)],
  acos: (x) => [-1 / Math.sqrt(1 - x * x)],
  atan: (x) => [1 / (1 + x * x)],
  exp: (x) => [host.exp(x)],
  log: (x) => [1 / x],
  round_half_away: () => [1],
  atan2: (y, x) => [x / (x * x + y * y), -y / (x * x + y * y)],
  pow: (x, y) => [y === 0 ? 0 : y * host.pow(x, y - 1), x > 0 ? host.pow(x, y) * host.log(x) : 0],
  hypot: (x, y) => {
    const r = host.hypot(x, y);
    return r === 0 ? [0, 0] : [x / r, y / r];
  },
};

/** What names an elementary function's rule: `sin_f32` is sin. */
function ruleOf(func: string): ((x: number, y: number) => readonly number[]) | undefined {
  const base = func.replace(/_f(32|64)$/, '');
  return base !== func && Object.hasOwn(elementary, base) ? elementary[base] : undefined;
}

/** What an analysis leaves out, so that a point of rest is one. */
export interface Idealised {
  /** `normal` answers 0. */
  readonly noise?: boolean;
  /** Whole numbers are as fine as reals: rounding answers what it was given, and counts run over without losing their fractions. */
  readonly quantisation?: boolean;
}

/** A real number where a count of 32 bits would run over. */
const turned = (x: number): number => x - 2 ** 32 * Math.floor((x + 2 ** 31) / 2 ** 32);

/** What operations answer where whole numbers are fine, by name; of the program's own text, not inside an elementary function. */
const fine: Readonly<Record<string, (a: number, b: number) => number>> = {
  floor_f32: (a) => a,
  floor_f64: (a) => a,
  trunc_f32: (a) => a,
  trunc_f64: (a) => a,
  i32_from_f32: (a) => (Number.isNaN(a) ? 0 : a),
  i32_from_f64: (a) => (Number.isNaN(a) ? 0 : a),
  add_i32: (a, b) => turned(a + b),
  sub_i32: (a, b) => turned(a - b),
  mul_i32: (a, b) => (Number.isInteger(a) && Number.isInteger(b) ? Math.imul(a, b) : turned(a * b)),
  shl_i32: (a, b) => turned(a * 2 ** (b & 31)),
  shr_i32: (a, b) => a / 2 ** (b & 31),
};

/**
 * Runs a program's functions on (value, gradient) pairs. Values are the interpreter's own, so branches, limits and modes are
 * those of the point it stands at; derivatives follow them. A limit that acts lets nothing through; exactly on a corner
 * the side that the comparison takes counts. Rounding to whole numbers counts as fine (see `operations.ts`). Functions *in* the
 * program such as sin are differentiated by rule, not through their range reduction.
 */
export class DerivativeMachine {
  readonly program: Program;
  /** Number of directions. */
  readonly directions: number;
  private readonly cells: Cells[];
  private readonly functions: ReadonlyMap<string, Func>;
  /** Functions that are not run, by full name: noise answers 0, rounding its argument. */
  private readonly left: ReadonlyMap<string, 'zero' | 'same'>;
  private readonly quantised: boolean;
  /** How deep in elementary functions the machine is. */
  private depth = 0;

  constructor(program: Program, directions: number, idealised: Idealised = {}) {
    this.program = program;
    this.directions = directions;
    this.quantised = idealised.quantisation !== true;
    this.left = new Map(
      (['f32', 'f64'] as const).flatMap((real) => [
        ...(idealised.noise === true ? [[`normal_${real}`, 'zero'] as const] : []),
        ...(idealised.quantisation === true ? [[`round_half_away_${real}`, 'same'] as const] : []),
      ]),
    );
    this.cells = program.slots.map((slot) => ({
      values: [...slot.start],
      gradients: new Array<Gradient>(slot.length).fill(undefined),
    }));
    this.functions = new Map(program.functions.map((func) => [func.name, func]));
  }

  /** Everything to its start values, without derivatives. */
  start(): void {
    for (const slot of this.program.slots) {
      this.cellsOf(slot.id).values.splice(0, slot.length, ...slot.start);
      this.cellsOf(slot.id).gradients.fill(undefined);
    }
  }

  /** A copy of all values, by slot. */
  values(): readonly (readonly number[])[] {
    return this.cells.map(({ values }) => [...values]);
  }

  /** Puts all values, without derivatives. */
  load(values: readonly (readonly number[])[]): void {
    for (const [slot, cells] of this.cells.entries()) {
      cells.values.splice(0, cells.values.length, ...(values[slot] ?? []));
      cells.gradients.fill(undefined);
    }
  }

  read(slot: number, index = 0): number {
    return this.cellsOf(slot).values[index] ?? Number.NaN;
  }

  /** Puts a value; its derivatives become 0. */
  write(slot: number, value: number, index = 0): void {
    const cells = this.cellsOf(slot);
    const type = this.program.slots[slot]?.type ?? 'f64';
    cells.values[index] = type === 'i32' && !this.quantised ? value : toType(type, value);
    cells.gradients[index] = undefined;
  }

  gradient(slot: number, index = 0): Float64Array {
    return this.cellsOf(slot).gradients[index] ?? new Float64Array(this.directions);
  }

  setGradient(slot: number, gradient: Gradient, index = 0): void {
    this.cellsOf(slot).gradients[index] = gradient;
  }

  /** Makes a scalar one of the directions: its own derivative by it is 1. */
  seed(slot: number, direction: number, index = 0): void {
    const gradient = new Float64Array(this.directions);
    gradient[direction] = 1;
    this.setGradient(slot, gradient, index);
  }

  call(name: string): void {
    const func = this.functions.get(name);
    if (func === undefined) throw new Error(`${this.program.name}: no function ${name}`);
    this.run(func, [], []);
  }

  private cellsOf(slot: number): Cells {
    const cells = this.cells[slot];
    if (cells === undefined) throw new Error(`${this.program.name}: no slot ${slot}`);
    return cells;
  }

  private run(func: Func, args: readonly number[], gradients: readonly Gradient[]): [number, Gradient] {
    const values = new Array<number>(func.values.length).fill(0);
    const slopes = new Array<Gradient>(func.values.length).fill(undefined);
    for (const [i, arg] of args.entries()) {
      values[i] = toType(func.values[i] ?? 'f64', arg);
      slopes[i] = gradients[i];
    }
    this.list(func.body, values, slopes);
    return func.result === undefined ? [0, undefined] : [values[func.result] ?? 0, slopes[func.result]];
  }

  private list(list: readonly Instruction[], values: number[], slopes: Gradient[]): void {
    for (const instruction of list) this.step(instruction, values, slopes);
  }

  private step(instruction: Instruction, values: number[], slopes: Gradient[]): void {
    const value = (id: Value): number => values[id] ?? 0;
    switch (instruction.do) {
      case 'const':
        values[instruction.to] = instruction.value;
        slopes[instruction.to] = undefined;
        return;
      case 'compute': {
        const { evaluate, partials } = operation(instruction.op);
        const args = instruction.args.map(value);
        const ideal = this.quantised || this.depth > 0 ? undefined : fine[instruction.op];
        values[instruction.to] = ideal === undefined ? evaluate(...args) : ideal(args[0] ?? 0, args[1] ?? 0);
        const moving = instruction.args.map((arg) => slopes[arg]);
        slopes[instruction.to] =
          partials === undefined || moving.every((one) => one === undefined)
            ? undefined
            : this.combined(partials(...args), moving);
        return;
      }
      case 'load':
      case 'store': {
        const cells = this.cellsOf(instruction.slot);
        const at = instruction.index === undefined ? 0 : clamp(value(instruction.index), 0, cells.values.length - 1);
        if (instruction.do === 'load') {
          values[instruction.to] = cells.values[at] ?? 0;
          slopes[instruction.to] = cells.gradients[at];
        } else {
          cells.values[at] = value(instruction.value);
          cells.gradients[at] = slopes[instruction.value];
        }
        return;
      }
      case 'line_load': {
        const line = this.cellsOf(instruction.slot);
        const head = this.headOf(instruction.slot);
        const back = (head.values[0] ?? 0) - clamp(value(instruction.ago), 1, line.values.length);
        const at = back < 0 ? back + line.values.length : back;
        values[instruction.to] = line.values[at] ?? 0;
        slopes[instruction.to] = line.gradients[at];
        return;
      }
      case 'line_push': {
        const line = this.cellsOf(instruction.slot);
        const head = this.headOf(instruction.slot);
        const at = head.values[0] ?? 0;
        line.values[at] = value(instruction.value);
        line.gradients[at] = slopes[instruction.value];
        head.values[0] = at + 1 === line.values.length ? 0 : at + 1;
        return;
      }
      case 'if':
        this.list(value(instruction.condition) === 1 ? instruction.then : instruction.else, values, slopes);
        return;
      case 'repeat':
        for (let i = 0; i < instruction.count; i++) {
          values[instruction.index] = i;
          this.list(instruction.body, values, slopes);
        }
        return;
      case 'call': {
        const callee = this.functions.get(instruction.func);
        if (callee === undefined) throw new Error(`${this.program.name}: no function ${instruction.func}`);
        const left = this.left.get(instruction.func);
        if (left !== undefined && instruction.to !== undefined) {
          const [argument = 0] = instruction.args;
          values[instruction.to] = left === 'zero' ? 0 : value(argument);
          slopes[instruction.to] = left === 'zero' ? undefined : slopes[argument];
          return;
        }
        const args = instruction.args.map(value);
        const moving = instruction.args.map((arg) => slopes[arg]);
        const rule = ruleOf(instruction.func);
        if (rule !== undefined) this.depth++;
        const [result, gradient] = this.run(callee, args, rule === undefined ? moving : []);
        if (rule !== undefined) this.depth--;
        if (instruction.to === undefined) return;
        values[instruction.to] = result;
        slopes[instruction.to] =
          rule === undefined
            ? gradient
            : moving.every((one) => one === undefined)
              ? undefined
              : this.combined(rule(args[0] ?? 0, args[1] ?? 0), moving);
        return;
      }
      case 'note':
        return;
    }
  }

  private headOf(slot: number): Cells {
    const head = this.program.slots[slot]?.head;
    if (head === undefined) throw new Error(`${this.program.name}: slot ${slot} is not a delay line`);
    return this.cellsOf(head);
  }

  /** Σ partial · gradient; a partial of 0 takes nothing, whatever it meets. */
  private combined(partials: readonly number[], moving: readonly Gradient[]): Gradient {
    let sum: Gradient;
    for (const [i, gradient] of moving.entries()) {
      const partial = partials[i] ?? 0;
      if (gradient === undefined || partial === 0) continue;
      if (partial === 1 && sum === undefined && i === moving.length - 1) return gradient;
      sum ??= new Float64Array(this.directions);
      for (let k = 0; k < sum.length; k++) sum[k] = (sum[k] ?? 0) + partial * (gradient[k] ?? 0);
    }
    return sum;
  }
}
