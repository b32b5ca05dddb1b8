/**
 * A second meaning of block texts: evaluates equations straight from the syntax at `f64`. It knows nothing of the typed
 * program; a wrong lowering cannot agree with it by sharing its mistake. Elementary functions are the host's, which are
 * checked against mpmath elsewhere: with others, a last bit would now and then move a comparison.
 */

import type { Compiled } from '../../compiler/compile.ts';
import { host } from '../../compiler/ir/host.ts';
import type { Expression } from '../../compiler/language/syntax.ts';
import { matrixExponential } from '../../compiler/stages/host_matrix.ts';
import type { Instance } from '../../compiler/stages/resolve.ts';
import {
  extreme,
  type Kind,
  kindOf,
  power,
  product,
  real,
  solve,
  type Thing,
  together,
  truth,
  whole,
} from './things.ts';

/** What a tick starts from: the program's own memories and held values, and its raw inputs. */
export interface Before {
  /** All scalars of a slot by name, before the tick; undefined when there is none. */
  slot(name: string): readonly number[] | undefined;
  /** The raw reading of a `channel in`. */
  input(path: string, name: string): number;
  readonly tick: number;
}

/** Values and next memories by `path.name` and `path.name+`. */
export type After = Map<string, readonly number[]>;

export class Direct {
  private readonly compiled: Compiled;
  private readonly started = new Set<string>();
  private values = new Map<string, Thing>();
  private busy = new Set<string>();
  private before: Before | undefined;
  private fresh = new Map<string, boolean>();

  constructor(compiled: Compiled) {
    this.compiled = compiled;
  }

  /** Everything the program side computes in one tick. */
  tick(before: Before): After {
    this.before = before;
    this.values = new Map();
    this.busy = new Set();
    this.fresh = new Map();
    const after: After = new Map();
    const due = this.instances().filter((instance) => this.runs(instance));
    for (const instance of due) {
      const { text } = instance.flat;
      for (const equation of text.equations) {
        if (!this.isProgram(instance, equation.name)) continue;
        if (equation.kind === 'plain')
          after.set(`${instance.path}.${equation.name}`, this.value(instance, equation.name).data);
        if (equation.kind === 'next') {
          const signal = instance.signals.get(equation.name);
          const next = this.brought(this.evaluate(instance, equation.value), signal?.kind ?? 'real');
          after.set(`${instance.path}.${equation.name}+`, next.data);
        }
      }
      if (text.modes.length > 0) after.set(`${instance.path}.mode+`, this.value(instance, 'mode').data);
    }
    for (const instance of this.instances()) {
      const key = this.zone(instance);
      if (!this.switchedOn(instance)) this.started.delete(key);
      else if (this.isDue(instance)) this.started.add(key);
    }
    return after;
  }

  private instances(): Instance[] {
    return [...this.compiled.resolved.instances.values()].filter((instance) => instance.side !== 'plant');
  }

  private isProgram(instance: Instance, name: string): boolean {
    return (
      this.compiled.definitions.byKey.get(`${instance.path}.${name}`)?.stage === 'tick' ||
      this.compiled.definitions.byKey.get(`${instance.path}.${name}+`)?.stage === 'tick'
    );
  }

  private zone(instance: Instance): string {
    return `${instance.every} ${instance.phase} ${instance.flat.when.map((w) => `${w.path}.${w.port}`).join(' ')}`;
  }

  private isDue(instance: Instance): boolean {
    return (this.before?.tick ?? 0) % instance.every === instance.phase;
  }

  private switchedOn(instance: Instance): boolean {
    return instance.flat.when.every((source) => {
      const other = this.compiled.resolved.instances.get(source.path);
      return other !== undefined && this.value(other, source.port).data[0] === 1;
    });
  }

  private runs(instance: Instance): boolean {
    return this.isDue(instance) && this.switchedOn(instance);
  }

  private isFresh(instance: Instance): boolean {
    const key = this.zone(instance);
    const known = this.fresh.get(key);
    if (known !== undefined) return known;
    const fresh = !this.started.has(key);
    this.fresh.set(key, fresh);
    return fresh;
  }

  /** A port, plain quantity, memory or mode of a block as this tick has it. */
  private value(instance: Instance, name: string): Thing {
    const key = `${instance.path}.${name}`;
    const known = this.values.get(key);
    if (known !== undefined) return known;
    if (this.busy.has(key)) throw new Error(`${key} waits for itself`);
    this.busy.add(key);
    const value = this.compute(instance, name);
    this.busy.delete(key);
    this.values.set(key, value);
    return value;
  }

  private compute(instance: Instance, name: string): Thing {
    const { text, wires } = instance.flat;
    const key = `${instance.path}.${name}`;
    const signal = instance.signals.get(name);
    const source = wires.get(name);
    if (source !== undefined) {
      const other = this.compiled.resolved.instances.get(source.path);
      if (other === undefined) throw new Error(`no ${source.path}`);
      const whole = this.value(other, source.port);
      if (source.element === undefined) return whole;
      return { kind: whole.kind, rows: 1, columns: 1, data: [whole.data[source.element - 1] ?? Number.NaN] };
    }
    if (!this.runs(instance)) {
      const held = this.before?.slot(key);
      if (held === undefined || signal === undefined) throw new Error(`${key} is not held`);
      return { ...signal, data: held };
    }
    const channel = text.channels.find((item) => item.name === name);
    if (channel?.direction === 'in')
      return { kind: channel.type, rows: 1, columns: 1, data: [this.before?.input(instance.path, name) ?? 0] };
    const memory = text.memories.find((item) => item.name === name);
    if (memory !== undefined && signal !== undefined) {
      if (!this.isFresh(instance)) return { ...signal, data: this.before?.slot(key) ?? [] };
      const start = this.brought(this.evaluate(instance, memory.start), signal.kind);
      const count = signal.rows * signal.columns;
      return { ...signal, data: start.data.length === 1 ? new Array(count).fill(start.data[0]) : start.data };
    }
    if (name === 'mode') return this.mode(instance);
    const input = text.inputs.find((item) => item.name === name);
    const equation = text.equations.find((item) => item.kind === 'plain' && item.name === name);
    const expression = equation?.value ?? input?.fallback;
    if (expression === undefined) throw new Error(`${key} has no value`);
    const value = this.evaluate(instance, expression);
    return signal === undefined ? value : this.brought(value, signal.kind);
  }

  private mode(instance: Instance): Thing {
    const { modes, transitions } = instance.flat.text;
    const old = this.isFresh(instance) ? 0 : (this.before?.slot(`${instance.path}.mode`)?.[0] ?? 0);
    for (const transition of transitions) {
      if (!transition.from.includes(modes[old] ?? '')) continue;
      if (this.evaluate(instance, transition.when).data[0] === 1) return whole(modes.indexOf(transition.to));
    }
    return whole(old);
  }

  private brought(value: Thing, kind: 'real' | 'int' | 'bool'): Thing {
    return { ...value, kind };
  }

  private delayed(instance: Instance, name: string, ago: number): Thing | undefined {
    const line = instance.flat.text.memories.find((item) => item.name === name && item.kind === 'line');
    if (line === undefined) return undefined;
    if (this.isFresh(instance)) return this.evaluate(instance, line.start);
    const data = this.before?.slot(`${instance.path}.${name}`) ?? [];
    const head = this.before?.slot(`${instance.path}.${name}.head`)?.[0] ?? 0;
    const back = Math.min(Math.max(ago, 1), data.length);
    return real(data[(head - back + data.length) % data.length] ?? Number.NaN);
  }

  private named(instance: Instance, name: string): Thing {
    const { text } = instance.flat;
    const constants: Record<string, () => Thing> = {
      dt: () => real(instance.period),
      pi: () => real(Math.PI),
      unlimited: () => real(Number.POSITIVE_INFINITY),
      true: () => truth(true),
      false: () => truth(false),
      tick: () => whole(this.before?.tick ?? 0),
      t: () => real((this.before?.tick ?? 0) * this.compiled.resolved.tick),
      first: () => truth(this.isFresh(instance)),
    };
    const constant = Object.hasOwn(constants, name) ? constants[name] : undefined;
    if (constant !== undefined) return constant();
    const mode = text.modes.indexOf(name);
    if (mode >= 0) return whole(mode);
    const build = instance.builds.get(name);
    if (build !== undefined)
      return 'value' in build
        ? { kind: build.type, rows: 1, columns: 1, data: [build.value] }
        : { kind: 'word', rows: 1, columns: 1, data: [], word: 'word' in build ? build.word : '' };
    const size = instance.sizes.get(name);
    if (size !== undefined) return whole(size);
    const setting = instance.settings.get(name);
    if (setting !== undefined)
      return { kind: setting.kind, rows: setting.rows, columns: setting.columns, data: setting.numbers };
    const host = text.equations.find((item) => item.kind === 'let' && item.name === name);
    return host === undefined ? this.value(instance, name) : this.evaluate(instance, host.value);
  }

  private evaluate(instance: Instance, expression: Expression): Thing {
    return new Evaluation(
      instance,
      (name) => this.named(instance, name),
      (name, ago) => this.delayed(instance, name, ago),
      this.compiled.resolved.tick,
    ).of(expression);
  }
}

class Evaluation {
  private readonly bound = new Map<string, Thing>();
  private readonly kinds = new Map<string, string>();
  private readonly instance: Instance;
  private readonly named: (name: string) => Thing;
  private readonly delayed: (name: string, ago: number) => Thing | undefined;
  private readonly base: number;

  constructor(
    instance: Instance,
    named: (name: string) => Thing,
    delayed: (name: string, ago: number) => Thing | undefined,
    base: number,
  ) {
    this.instance = instance;
    this.named = named;
    this.delayed = delayed;
    this.base = base;
  }

  of(e: Expression): Thing {
    switch (e.kind) {
      case 'number':
        return { kind: e.unit === undefined ? 'literal' : 'real', rows: 1, columns: 1, data: [e.value] };
      case 'name':
        return this.bound.get(e.name) ?? this.named(e.name);
      case 'word':
        return { kind: 'word', rows: 1, columns: 1, data: [], word: e.word };
      case 'unary': {
        const a = this.of(e.arg);
        if (e.op === 'not') return { ...a, data: a.data.map((x) => 1 - x) };
        return { ...a, data: a.data.map((x) => (a.kind === 'int' ? (0 - x) | 0 : -x)) };
      }
      case 'binary':
        return this.binary(e.op, this.of(e.left), this.of(e.right));
      case 'choose': {
        const condition = this.of(e.condition).data[0] === 1;
        if (this.isConstant(e.condition)) return this.of(condition ? e.then : e.else);
        const [a, b] = [this.of(e.then), this.of(e.else)];
        return { ...(condition ? a : b), kind: together(a, b) };
      }
      case 'matrix': {
        const parts = e.rows.map((row) => row.map((item) => this.of(item)));
        const all = parts.flat();
        return {
          kind: kindOf(all),
          rows: parts.length,
          columns: parts[0]?.length ?? 0,
          data: all.flatMap((x) => x.data),
        };
      }
      case 'index':
        return this.index(e);
      case 'each': {
        const parts: Thing[] = [];
        if ('to' in e.over) {
          const count = this.of(e.over.to).data[0] ?? 0;
          for (let i = 1; i <= count; i++) parts.push(this.with(e.variable, whole(i), '', () => this.of(e.body)));
        } else
          for (const element of this.elements(e.over.in))
            parts.push(this.with(e.variable, element.thing, element.kind, () => this.of(e.body)));
        return {
          kind: kindOf(parts),
          rows: parts.length,
          columns: parts[0]?.rows ?? 1,
          data: parts.flatMap((x) => x.data),
        };
      }
      case 'fold': {
        let accumulated = this.of(e.start);
        for (const element of this.elements(e.list)) {
          const now = accumulated;
          accumulated = this.with(e.accumulator, now, '', () =>
            this.with(e.variable, element.thing, element.kind, () => this.of(e.body)),
          );
        }
        return accumulated;
      }
      case 'call':
        return this.ofCall(e);
      case 'is':
        return truth(this.kinds.get(e.name) === e.word);
    }
  }

  /** Choices by word or kind take one side only; the other may not even make sense. */
  private isConstant(e: Expression): boolean {
    if (e.kind === 'is' || e.kind === 'word' || e.kind === 'number') return true;
    if (e.kind === 'name')
      return this.bound.has(e.name) || this.instance.builds.has(e.name) || this.instance.sizes.has(e.name);
    if (e.kind === 'binary') return this.isConstant(e.left) && this.isConstant(e.right);
    return e.kind === 'unary' && this.isConstant(e.arg);
  }

  private with(name: string, thing: Thing, kind: string, body: () => Thing): Thing {
    const [before, kindBefore] = [this.bound.get(name), this.kinds.get(name)];
    this.bound.set(name, thing);
    this.kinds.set(name, kind);
    const result = body();
    if (before === undefined) this.bound.delete(name);
    else this.bound.set(name, before);
    if (kindBefore === undefined) this.kinds.delete(name);
    else this.kinds.set(name, kindBefore);
    return result;
  }

  private elements(name: string): { thing: Thing; kind: string }[] {
    const { text, inputs } = this.instance.flat;
    const open = text.openInputs.find((item) => item.name === name);
    if (open === undefined) {
      const vector = this.bound.get(name) ?? this.named(name);
      return vector.data.map((x) => ({ thing: { ...vector, rows: 1, columns: 1, data: [x] }, kind: '' }));
    }
    return inputs
      .filter((input) => open.kinds.length === 0 || open.kinds.includes(input.kind))
      .map((input) => ({ thing: this.named(input.name), kind: input.kind }));
  }

  private index(e: Extract<Expression, { kind: 'index' }>): Thing {
    const [first, second] = e.indices.map((index) => this.of(index).data[0] ?? 1);
    if (e.base.kind === 'name' && e.indices.length === 1) {
      const late = this.delayed(e.base.name, first ?? 1);
      if (late !== undefined) return late;
    }
    const base = this.of(e.base);
    const at =
      second === undefined
        ? Math.min(Math.max((first ?? 1) - 1, 0), base.data.length - 1)
        : ((first ?? 1) - 1) * base.columns + second - 1;
    return { kind: base.kind, rows: 1, columns: 1, data: [base.data[at] ?? Number.NaN] };
  }

  private binary(op: string, a: Thing, b: Thing): Thing {
    if (a.kind === 'word' || b.kind === 'word') return truth((a.word === b.word) === (op === '=='));
    if (op === '\\') return solve(a, b);
    if (op === '^') return power(a, b);
    const kind = together(a, b);
    if (op === '*' && a.data.length > 1 && b.data.length > 1) return product(a, b, kind);
    const operations: Record<string, (x: number, y: number) => number> = {
      '+': (x, y) => (kind === 'int' ? (x + y) | 0 : x + y),
      '-': (x, y) => (kind === 'int' ? (x - y) | 0 : x - y),
      '*': (x, y) => (kind === 'int' ? Math.imul(x, y) : x * y),
      '/': (x, y) => (kind === 'int' ? (y === 0 ? 0 : Math.trunc(x / y) | 0) : x / y),
      '==': (x, y) => Number(x === y),
      '!=': (x, y) => Number(x !== y),
      '<': (x, y) => Number(x < y),
      '<=': (x, y) => Number(x <= y),
      '>': (x, y) => Number(x > y),
      '>=': (x, y) => Number(x >= y),
      and: (x, y) => x & y,
      or: (x, y) => x | y,
    };
    const operate = operations[op];
    if (operate === undefined) throw new Error(`no operator ${op}`);
    const shape = a.data.length === 1 ? b : a;
    const data = shape.data.map((_, i) =>
      operate(a.data[a.data.length === 1 ? 0 : i] ?? 0, b.data[b.data.length === 1 ? 0 : i] ?? 0),
    );
    const logical = !['+', '-', '*', '/'].includes(op);
    return { kind: logical ? 'bool' : kind, rows: shape.rows, columns: shape.columns, data };
  }

  private call(name: string, args: readonly Thing[]): Thing {
    const [a = real(Number.NaN), b = real(Number.NaN)] = args;
    const each = (f: (x: number) => number, kind: Kind = 'real'): Thing => ({ ...a, kind, data: a.data.map(f) });
    const simple: Record<string, (x: number) => number> = {
      sin: host.sin,
      cos: host.cos,
      tan: host.tan,
      asin: host.asin,
      acos: host.acos,
      atan: host.atan,
      exp: host.exp,
      log: host.log,
      sqrt: Math.sqrt,
      floor: Math.floor,
      trunc: Math.trunc,
      ceil: Math.ceil,
      round: (x) => (Math.abs(x - Math.trunc(x)) >= 0.5 ? Math.trunc(x) + (x < 0 ? -1 : 1) : Math.trunc(x)),
      sign: (x) => (x > 0 ? 1 : x < 0 ? -1 : 0),
    };
    const f = Object.hasOwn(simple, name) ? simple[name] : undefined;
    if (f !== undefined) return each(f);
    switch (name) {
      case 'abs':
        return each(a.kind === 'int' ? (x) => Math.abs(x) | 0 : Math.abs, a.kind);
      case 'atan2':
        return real(host.atan2(a.data[0] ?? 0, b.data[0] ?? 0));
      case 'hypot':
        return real(host.hypot(a.data[0] ?? 0, b.data[0] ?? 0));
      case 'pow':
        return real(host.pow(a.data[0] ?? 0, b.data[0] ?? 0));
      case 'finite':
        return each((x) => Number(Number.isFinite(x)), 'bool');
      case 'wrap': {
        const by = 32 - (b.data[0] ?? 32);
        return each((x) => (x << by) >> by, 'int');
      }
      case 'real':
        return { ...a, kind: 'real' };
      case 'int':
        return each(
          (x) => (Number.isNaN(x) ? 0 : Math.trunc(Math.min(2147483647, Math.max(-2147483648, x))) | 0),
          'int',
        );
      case 'bare':
        return a;
      case 'size':
        return whole(a.data.length);
      case 'solve':
        return solve(a, b);
      case 'transpose':
        return {
          ...a,
          rows: a.columns,
          columns: a.rows,
          data: a.data.map((_, k) => a.data[(k % a.rows) * a.columns + Math.floor(k / a.rows)] ?? 0),
        };
      case 'identity':
      case 'zeros': {
        const rows = a.data[0] ?? 0;
        const columns = args.length > 1 ? (b.data[0] ?? 0) : name === 'identity' ? rows : 1;
        const data = Array.from({ length: rows * columns }, (_, k) =>
          Number(name === 'identity' && Math.floor(k / columns) === k % columns),
        );
        return { kind: 'literal', rows, columns, data };
      }
      case 'ticks':
        return whole(Math.ceil((a.data[0] ?? 0) / this.base - 1e-9));
      case 'periods':
        return whole(Math.ceil((a.data[0] ?? 0) / this.instance.period - 1e-9));
      case 'matrix_exp':
        return { ...a, kind: 'real', data: matrixExponential(a.data, a.rows) };
      case 'min':
      case 'max':
        return args.reduce((x, y) => extreme(name, x, y));
      default:
        throw new Error(`no function ${name}`);
    }
  }

  private reduce(name: string, things: readonly Thing[]): Thing {
    if (name === 'count') return whole(things.length);
    const [first, ...rest] = things;
    if (first === undefined)
      return name === 'all' ? truth(true) : name === 'any' ? truth(false) : real(name === 'product' ? 1 : 0);
    const op = { sum: '+', product: '*', all: 'and', any: 'or' }[name];
    return rest.reduce(
      (x, y) => (op === undefined ? extreme(name === 'min' ? 'min' : 'max', x, y) : this.binary(op, x, y)),
      first,
    );
  }

  /** Calls and reductions of an expression; reductions see the elements of a list one by one. */
  private ofCall(e: Extract<Expression, { kind: 'call' }>): Thing {
    const [only] = e.args;
    const reduces =
      ['sum', 'product', 'all', 'any', 'count'].includes(e.name) ||
      (['min', 'max'].includes(e.name) && e.args.length === 1);
    if (!reduces || only === undefined)
      return this.call(
        e.name,
        e.args.map((arg) => this.of(arg)),
      );
    const open = only.kind === 'name' && this.instance.flat.text.openInputs.some((item) => item.name === only.name);
    if (open && only.kind === 'name')
      return this.reduce(
        e.name,
        this.elements(only.name).map(({ thing }) => thing),
      );
    const vector = this.of(only);
    return this.reduce(
      e.name,
      vector.data.map((x) => ({ kind: vector.kind, rows: 1, columns: 1, data: [x] })),
    );
  }
}
