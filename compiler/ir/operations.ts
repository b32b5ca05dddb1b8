/** One record an operation: its types, its meaning, how WebAssembly and C say it, and its answers at the edges. */

import type { Type } from './program.ts';

/** How WebAssembly says an operation: raw opcode bytes after the operands, or a short sequence over locals. */
export type WasmForm =
  | { readonly bytes: readonly number[] }
  /** The name of a function the WebAssembly back end supplies itself. */
  | { readonly helper: string };

export interface Operation {
  /** Unique: what it does, then the type it does it to: `add_f32`. */
  readonly name: string;
  readonly args: readonly Type[];
  readonly result: Type;
  /** The meaning. Arguments and result are JavaScript numbers holding values of the types; bool is 0 or 1. */
  readonly evaluate: (...args: number[]) => number;
  readonly wasm: WasmForm;
  /** A C99 expression; each argument is already a primary or parenthesised expression. */
  readonly c: (...args: string[]) => string;
  /**
   * Derivatives of the result by each argument, for a linear model; absent where the result does not move with its arguments.
   * Rounding to whole numbers counts as if its steps were infinitely fine: 1.
   */
  readonly partials?: (...args: number[]) => readonly number[];
  /** What it answers for not-a-number, infinities, −0, denormals and overflow. */
  readonly edges: string;
  /** Commutative in every bit of its result (NaNs compare as one value). */
  readonly commutes?: boolean;
}

const table = new Map<string, Operation>();

function add(operation: Operation): void {
  if (table.has(operation.name)) throw new Error(`two operations named ${operation.name}`);
  table.set(operation.name, operation);
}

/** Partial derivatives of arithmetic, by the operation's name without its type. */
const slopes: Readonly<Record<string, (...args: number[]) => readonly number[]>> = {
  add: () => [1, 1],
  sub: () => [1, -1],
  mul: (a, b) => [b ?? 0, a ?? 0],
  div: (a, b) => [1 / (b ?? 1), -(a ?? 0) / ((b ?? 1) * (b ?? 1))],
  neg: () => [-1],
  abs: (a) => [(a ?? 0) < 0 ? -1 : 1],
  sqrt: (a) => [0.5 / Math.sqrt(a ?? 0)],
  floor: () => [1],
  trunc: () => [1],
};

const slopeOf = (name: string): Pick<Operation, 'partials'> => {
  const partials = slopes[name];
  return partials === undefined ? {} : { partials };
};

const asBool = (condition: boolean): number => (condition ? 1 : 0);
const plain = 'IEEE 754: NaN in gives NaN; rounds to nearest even; denormals are kept';

for (const real of ['f32', 'f64'] as const) {
  const is32 = real === 'f32';
  const round = is32 ? Math.fround : (x: number) => x;
  const suffix = is32 ? 'f' : '';
  const at = (f32: number, f64: number): WasmForm => ({ bytes: [is32 ? f32 : f64] });
  const binary = (
    name: string,
    evaluate: (a: number, b: number) => number,
    wasm: WasmForm,
    sign: string,
    edges: string,
  ) =>
    add({
      name: `${name}_${real}`,
      args: [real, real],
      result: real,
      evaluate: (a, b) => round(evaluate(a as number, b as number)),
      wasm,
      c: (a, b) => `${a} ${sign} ${b}`,
      edges,
      commutes: name === 'add' || name === 'mul',
      ...slopeOf(name),
    });
  binary('add', (a, b) => a + b, at(0x92, 0xa0), '+', `${plain}; −0 + −0 = −0, x + (−x) = +0`);
  binary('sub', (a, b) => a - b, at(0x93, 0xa1), '-', `${plain}; x − x = +0`);
  binary('mul', (a, b) => a * b, at(0x94, 0xa2), '*', `${plain}; 0 · ∞ = NaN`);
  binary('div', (a, b) => a / b, at(0x95, 0xa3), '/', `${plain}; x/0 = ±∞, 0/0 = NaN`);
  const unary = (
    name: string,
    evaluate: (a: number) => number,
    wasm: WasmForm,
    c: (a: string) => string,
    edges: string,
  ) =>
    add({
      name: `${name}_${real}`,
      args: [real],
      result: real,
      evaluate: (a) => round(evaluate(a as number)),
      wasm,
      c: (a) => c(a as string),
      edges,
      ...slopeOf(name),
    });
  unary(
    'neg',
    (a) => -a,
    at(0x8c, 0x9a),
    (a) => `-${a}`,
    'flips the sign bit, of 0 and ∞ too',
  );
  unary('abs', Math.abs, at(0x8b, 0x99), (a) => `fabs${suffix}(${a})`, 'clears the sign bit; |NaN| = NaN');
  unary('sqrt', Math.sqrt, at(0x91, 0x9f), (a) => `sqrt${suffix}(${a})`, `${plain}; √−0 = −0, √ of a negative is NaN`);
  unary('floor', Math.floor, at(0x8e, 0x9c), (a) => `floor${suffix}(${a})`, 'NaN, ±∞ and ±0 give themselves');
  unary(
    'trunc',
    Math.trunc,
    at(0x8f, 0x9d),
    (a) => `trunc${suffix}(${a})`,
    'NaN, ±∞ and ±0 give themselves; −0.5 gives −0',
  );
  const compare = (name: string, evaluate: (a: number, b: number) => boolean, wasm: WasmForm, sign: string) =>
    add({
      name: `${name}_${real}`,
      args: [real, real],
      result: 'bool',
      evaluate: (a, b) => asBool(evaluate(a as number, b as number)),
      wasm,
      c: (a, b) => `${a} ${sign} ${b}`,
      edges: 'false when either side is NaN; −0 equals +0',
      commutes: name === 'eq',
    });
  compare('eq', (a, b) => a === b, at(0x5b, 0x61), '==');
  compare('lt', (a, b) => a < b, at(0x5d, 0x63), '<');
  compare('le', (a, b) => a <= b, at(0x5f, 0x65), '<=');
  add({
    name: `i32_from_${real}`,
    args: [real],
    result: 'i32',
    evaluate: (a) => saturate(a as number),
    wasm: { bytes: [0xfc, is32 ? 0x00 : 0x02] },
    c: (a) => `lw_i32_from_${real}(${a})`,
    edges: 'truncates; saturates at −2³¹ and 2³¹ − 1; NaN gives 0',
    partials: () => [1],
  });
  add({
    name: `${real}_from_i32`,
    args: ['i32'],
    result: real,
    evaluate: (a) => round(a as number),
    wasm: at(0xb2, 0xb7),
    c: (a) => `(${is32 ? 'float' : 'double'})${a}`,
    edges: 'rounds to nearest even',
    partials: () => [1],
  });
  add({
    name: `${real}_from_bool`,
    args: ['bool'],
    result: real,
    evaluate: (a) => a as number,
    wasm: at(0xb2, 0xb7),
    c: (a) => `${a} ? ${is32 ? '1.0f : 0.0f' : '1.0 : 0.0'}`,
    edges: '0 or 1',
  });
}
add({
  name: 'f64_from_f32',
  args: ['f32'],
  result: 'f64',
  evaluate: (a) => a as number,
  wasm: { bytes: [0xbb] },
  c: (a) => `(double)${a}`,
  edges: 'exact',
  partials: () => [1],
});
add({
  name: 'f32_from_f64',
  args: ['f64'],
  result: 'f32',
  evaluate: (a) => Math.fround(a as number),
  wasm: { bytes: [0xb6] },
  c: (a) => `(float)${a}`,
  edges: 'rounds to nearest even; too large gives ±∞; denormals are kept',
  partials: () => [1],
});

const words = new DataView(new ArrayBuffer(8));
add({
  name: 'bits_f32',
  args: ['f32'],
  result: 'i32',
  evaluate: (a) => {
    words.setFloat32(0, a as number);
    return Number.isNaN(a) ? 0x7fc00000 : words.getInt32(0);
  },
  wasm: { helper: 'bits_f32' },
  c: (a) => `lw_bits_f32(${a})`,
  edges: 'the IEEE 754 pattern; every NaN gives 0x7fc00000',
});
add({
  name: 'f32_of_bits',
  args: ['i32'],
  result: 'f32',
  evaluate: (a) => {
    words.setInt32(0, a as number);
    return words.getFloat32(0);
  },
  wasm: { bytes: [0xbe] },
  c: (a) => `lw_f32_of_bits(${a})`,
  edges: 'every NaN pattern is the one NaN',
});
add({
  name: 'high_f64',
  args: ['f64'],
  result: 'i32',
  evaluate: (a) => {
    words.setFloat64(0, a as number);
    return Number.isNaN(a) ? 0x7ff80000 : words.getInt32(0);
  },
  wasm: { helper: 'high_f64' },
  c: (a) => `lw_high_f64(${a})`,
  edges: 'the upper word of the IEEE 754 pattern; every NaN gives 0x7ff80000',
});
add({
  name: 'low_f64',
  args: ['f64'],
  result: 'i32',
  evaluate: (a) => {
    words.setFloat64(0, a as number);
    return Number.isNaN(a) ? 0 : words.getInt32(4);
  },
  wasm: { helper: 'low_f64' },
  c: (a) => `lw_low_f64(${a})`,
  edges: 'the lower word of the IEEE 754 pattern; every NaN gives 0',
});
add({
  name: 'f64_of_words',
  args: ['i32', 'i32'],
  result: 'f64',
  evaluate: (high, low) => {
    words.setInt32(0, high as number);
    words.setInt32(4, low as number);
    return words.getFloat64(0);
  },
  wasm: { helper: 'f64_of_words' },
  c: (high, low) => `lw_f64_of_words(${high}, ${low})`,
  edges: 'every NaN pattern is the one NaN',
});

const integer = (
  name: string,
  evaluate: (a: number, b: number) => number,
  wasm: WasmForm,
  c: (a: string, b: string) => string,
  edges: string,
  commutes = false,
  partials = slopes[name],
): void =>
  add({
    name: `${name}_i32`,
    args: ['i32', 'i32'],
    result: 'i32',
    evaluate: (a, b) => evaluate(a as number, b as number) | 0,
    wasm,
    c: (a, b) => c(a as string, b as string),
    edges,
    commutes,
    ...(partials === undefined ? {} : { partials }),
  });
/** In C through unsigned arithmetic, which wraps by definition; signed may do anything. */
const through = (name: string) => (a: string, b: string) => `lw_${name}_i32(${a}, ${b})`;
integer('add', (a, b) => a + b, { bytes: [0x6a] }, through('add'), 'wraps', true);
integer('sub', (a, b) => a - b, { bytes: [0x6b] }, through('sub'), 'wraps');
integer('mul', (a, b) => Math.imul(a, b), { bytes: [0x6c] }, through('mul'), 'wraps', true);
integer(
  'div',
  (a, b) => (b === 0 ? 0 : Math.trunc(a / b)),
  { helper: 'div_i32' },
  through('div'),
  'truncates; x/0 = 0; −2³¹ / −1 wraps to −2³¹',
);
integer(
  'rem',
  (a, b) => (b === 0 ? 0 : a % b),
  { helper: 'rem_i32' },
  through('rem'),
  'sign of the dividend; x rem 0 = 0; −2³¹ rem −1 = 0',
  false,
  (a, b) => [b === 0 ? 0 : 1, b === 0 ? 0 : -Math.trunc((a ?? 0) / (b ?? 1))],
);
integer('and', (a, b) => a & b, { bytes: [0x71] }, through('and'), 'bitwise', true);
integer('or', (a, b) => a | b, { bytes: [0x72] }, through('or'), 'bitwise', true);
integer('xor', (a, b) => a ^ b, { bytes: [0x73] }, through('xor'), 'bitwise', true);
integer(
  'shl',
  (a, b) => a << (b & 31),
  { bytes: [0x74] },
  through('shl'),
  'counts by the amount modulo 32',
  false,
  (_, b) => [2 ** ((b ?? 0) & 31), 0],
);
integer(
  'shr',
  (a, b) => a >> (b & 31),
  { bytes: [0x75] },
  through('shr'),
  'keeps the sign; counts by the amount modulo 32',
  false,
  (_, b) => [2 ** -((b ?? 0) & 31), 0],
);
integer(
  'ushr',
  (a, b) => a >>> (b & 31),
  { bytes: [0x76] },
  through('ushr'),
  'fills with 0; counts by the amount modulo 32',
);
for (const [name, evaluate, byte, sign] of [
  ['eq', (a: number, b: number) => a === b, 0x46, '=='],
  ['lt', (a: number, b: number) => a < b, 0x48, '<'],
  ['le', (a: number, b: number) => a <= b, 0x4c, '<='],
] as const)
  add({
    name: `${name}_i32`,
    args: ['i32', 'i32'],
    result: 'bool',
    evaluate: (a, b) => asBool(evaluate(a as number, b as number)),
    wasm: { bytes: [byte] },
    c: (a, b) => `${a} ${sign} ${b}`,
    edges: 'signed',
    commutes: name === 'eq',
  });
add({
  name: 'ult_i32',
  args: ['i32', 'i32'],
  result: 'bool',
  evaluate: (a, b) => asBool((a as number) >>> 0 < (b as number) >>> 0),
  wasm: { bytes: [0x49] },
  c: (a, b) => `(uint32_t)${a} < (uint32_t)${b}`,
  edges: 'unsigned',
});
add({
  name: 'i32_from_bool',
  args: ['bool'],
  result: 'i32',
  evaluate: (a) => a as number,
  wasm: { bytes: [] },
  c: (a) => `lw_i32_from_bool(${a})`,
  edges: '0 or 1',
});

for (const [name, evaluate, wasm, c] of [
  ['and', (a: number, b: number) => a & b, 0x71, (a: string, b: string) => `${a} && ${b}`],
  ['or', (a: number, b: number) => a | b, 0x72, (a: string, b: string) => `${a} || ${b}`],
  ['eq', (a: number, b: number) => asBool(a === b), 0x46, (a: string, b: string) => `${a} == ${b}`],
] as const)
  add({
    name: `${name}_bool`,
    args: ['bool', 'bool'],
    result: 'bool',
    evaluate: (a, b) => evaluate(a as number, b as number),
    wasm: { bytes: [wasm] },
    c: (a, b) => c(a as string, b as string),
    edges: 'both sides are always evaluated; nothing here has effects',
    commutes: true,
  });
add({
  name: 'not_bool',
  args: ['bool'],
  result: 'bool',
  evaluate: (a) => 1 - (a as number),
  wasm: { bytes: [0x45] },
  c: (a) => `!${a}`,
  edges: 'none',
});
for (const type of ['bool', 'i32', 'f32', 'f64'] as const)
  add({
    name: `select_${type}`,
    args: ['bool', type, type],
    result: type,
    evaluate: (condition, a, b) => (condition === 1 ? (a as number) : (b as number)),
    wasm: { helper: `select_${type}` },
    c: (condition, a, b) => `${condition} ? ${a} : ${b}`,
    edges: 'the chosen value, bit for bit',
    partials: (condition) => (condition === 1 ? [0, 1, 0] : [0, 0, 1]),
  });

function saturate(x: number): number {
  if (Number.isNaN(x)) return 0;
  return Math.min(2147483647, Math.max(-2147483648, x)) | 0;
}

/** Every operation by name, in a fixed order. */
export const operations: ReadonlyMap<string, Operation> = table;

/** The record of an operation; a name that is not one is our own mistake. */
export function operation(name: string): Operation {
  const found = table.get(name);
  if (found === undefined) throw new Error(`no operation named ${name}`);
  return found;
}
