/** Random block texts that use every part of the language that a program can hold. */

/** A small generator with a seed: mulberry32. */
export class Random {
  private state: number;

  constructor(seed: number) {
    this.state = seed >>> 0;
  }

  next(): number {
    this.state = (this.state + 0x6d2b79f5) >>> 0;
    let t = this.state;
    t = Math.imul(t ^ (t >>> 15), t | 1);
    t ^= t + Math.imul(t ^ (t >>> 7), t | 61);
    return ((t ^ (t >>> 14)) >>> 0) / 4294967296;
  }

  below(n: number): number {
    return Math.floor(this.next() * n);
  }

  chance(p: number): boolean {
    return this.next() < p;
  }

  pick<T>(items: readonly T[]): T {
    const item = items[this.below(items.length)];
    if (item === undefined) throw new Error('nothing to pick from');
    return item;
  }

  /** A short decimal between −size and size. */
  decimal(size: number): string {
    return ((this.next() * 2 - 1) * size).toFixed(2);
  }
}

interface Names {
  readonly reals: readonly string[];
  readonly ints: readonly string[];
  readonly bools: readonly string[];
}

/** An expression of a real number, bounded where its parts could grow. */
function realExpression(r: Random, n: Names, depth: number): string {
  if (depth <= 0) return r.chance(0.25) ? number(r) : r.pick(n.reals);
  const real = (): string => realExpression(r, n, depth - 1);
  const forms: (() => string)[] = [
    () => `(${real()} + ${real()})`,
    () => `(${real()} - ${real()})`,
    () => `(${real()} * ${number(r)})`,
    () => `(${real()} / (1.5 + abs(${real()})))`,
    () => `(-${real()})`,
    () => `(${boolExpression(r, n, depth - 1)} ? ${real()} : ${real()})`,
    () => `min(${real()}, ${real()})`,
    () => `max(${real()}, ${real()})`,
    () => `abs(${real()})`,
    () => `sqrt(abs(${real()}))`,
    () => `${r.pick(['floor', 'ceil', 'trunc', 'round', 'sign'])}(${real()})`,
  ];
  const elementary: (() => string)[] = [
    () => `${r.pick(['sin', 'cos', 'atan'])}(${real()})`,
    () => `${r.pick(['asin', 'acos'])}(min(max(${real()}, -1), 1))`,
    () => `tan(0.4 * sin(${real()}))`,
    () => `exp(-abs(${real()}))`,
    () => `log(1.1 + abs(${real()}))`,
    () => `atan2(${real()}, ${real()})`,
    () => `hypot(${real()}, ${real()})`,
    () => `pow(0.5 + abs(sin(${real()})), ${number(r)})`,
  ];
  const shaped: (() => string)[] = [
    () => `(sign(${real()})^${1 + r.below(3)})`,
    () => `real(${intExpression(r, n, depth - 1)} - ${intExpression(r, n, depth - 1)} / 3 * 3)`,
    () => `sum([${real()}, ${real()}, ${real()}])`,
    () => `[${real()}, ${real()}, ${real()}][${1 + r.below(3)}]`,
    () => `product([1.0 + 0.1 * i for i to 3]) * ${real()}`,
    () => `sum([2, ${number(r)}; ${number(r)}, 3] \\ [${real()}, ${real()}])`,
    () => `(finite(${real()}) ? ${real()} : 0)`,
  ];
  return r.pick(r.chance(0.06) ? elementary : r.chance(0.25) ? shaped : forms)();
}

function number(r: Random): string {
  const text = r.decimal(2);
  return text.startsWith('-') ? `(${text})` : text;
}

function boolExpression(r: Random, n: Names, depth: number): string {
  if (depth <= 0 && n.bools.length > 0) return r.pick(n.bools);
  const real = (): string => realExpression(r, n, Math.max(0, depth - 1));
  const int = (): string => intExpression(r, n, Math.max(0, depth - 1));
  const bool = (): string => boolExpression(r, n, depth - 1);
  const forms: (() => string)[] = [
    () => `(${real()} ${r.pick(['<', '<=', '>', '>=', '==', '!='])} ${real()})`,
    () => `(${int()} ${r.pick(['<', '<=', '>', '>=', '==', '!='])} ${int()})`,
    () => `(not ${bool()})`,
    () => `(${bool()} and ${bool()})`,
    () => `(${bool()} or ${bool()})`,
    () => `(${bool()} == ${bool()})`,
    () => `any([${real()} > ${number(r)}, ${real()} < ${number(r)}])`,
    () => `all([${real()} > ${number(r)}, ${real()} < ${number(r)}])`,
  ];
  return r.pick(forms)();
}

function intExpression(r: Random, n: Names, depth: number): string {
  if (depth <= 0) return r.chance(0.3) ? `int(${r.below(9)})` : r.pick(n.ints);
  const int = (): string => intExpression(r, n, depth - 1);
  const forms: (() => string)[] = [
    () => `(${int()} + ${int()})`,
    () => `(${int()} - ${int()})`,
    () => `(${int()} * ${int()})`,
    () => `(${int()} / ${int()})`,
    () => `abs(${int()})`,
    () => `wrap(${int()}, ${3 + r.below(20)})`,
    () => `int(${realExpression(r, n, Math.max(0, depth - 1))})`,
    () => `min(${int()}, ${int()})`,
    () => `(${boolExpression(r, n, Math.max(0, depth - 1))} ? ${int()} : ${int()})`,
  ];
  return r.pick(forms)();
}

/** A block with inputs of every type, memories of every kind, a delay line and modes. */
export function randomText(r: Random, name: string): string {
  const inputs: Names = { reals: ['a', 'b'], ints: ['k'], bools: ['p'] };
  const all: Names = {
    reals: ['a', 'b', 'c', 'm', 'v[1]', 'v[2]', 'past[2]', 'g', 'h', 'real(n)', 'real(k)', 't * 0.5 / 1 s'].map((x) =>
      x.startsWith('t ') ? `(${x})` : x,
    ),
    ints: ['k', 'n', 'tick'],
    bools: ['p', 'q', 'first', '(mode == low)'],
  };
  const early: Names = { reals: ['a', 'b', 'm', 'v[2]', 'g'], ints: ['k', 'n'], bools: ['p', 'first'] };
  const bounded = (e: string): string => `min(max(${e}, -50), 50)`;
  return [
    `block ${name}`,
    '  "Random equations of a test."',
    'in a',
    'in b = 0.5 * a',
    'in k: int = 2',
    'in p: bool = true',
    'out y',
    'out z: [2]',
    'out yes: bool',
    'out whole: int',
    `set g = ${r.decimal(2)}`,
    'set s: [3] = [0.5, -0.25, 1.5]',
    `let h = ${r.pick(['exp(-g * g)', 'sin(g) + s[2]', 's[1] * s[3] / (1 + g^2)', 'sum([s[i] * i for i to 3])'])}`,
    `mem m = ${r.chance(0.5) ? r.decimal(1) : bounded(realExpression(r, { ...inputs, reals: ['a'] }, 1))}`,
    'mem v: [2] = [0.1, g]',
    'mem n: int = 3',
    'mem q: bool = false',
    `line past = ${r.decimal(1)} length 4`,
    `c = ${bounded(realExpression(r, early, 2))}`,
    `y = ${bounded(realExpression(r, all, 3))}`,
    `z = [${bounded(realExpression(r, all, 2))}, ${bounded(realExpression(r, all, 1))}]`,
    `yes = ${boolExpression(r, all, 2)}`,
    `whole = ${intExpression(r, all, 2)}`,
    `next m = ${bounded(`0.5 * m + ${realExpression(r, all, 2)}`)}`,
    `next v = [0.9, -0.2; 0.3, 0.8] * v + [0.1 * ${r.pick(all.reals)}, 0.05]`,
    `next n = wrap(n + ${intExpression(r, early, 1)} + 1, 16)`,
    `next q = ${boolExpression(r, all, 2)}`,
    `next past = ${bounded(realExpression(r, all, 1))}`,
    'mode low, middle, high',
    `from low to middle when ${boolExpression(r, early, 1)}`,
    `from middle to high when ${boolExpression(r, early, 1)}`,
    'from middle, high to low when n > 8 or q',
    'say y > 40 "far up"',
    '',
  ].join('\n');
}
