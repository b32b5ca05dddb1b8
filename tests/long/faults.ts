/** Faults put into lowering, simplifier and back ends one at a time: each must be seen by the tests that compare bits. */

export interface Fault {
  /** File from the top, and the text that stands in it once. */
  readonly file: string;
  readonly from: string;
  readonly to: string;
}

const fault =
  (file: string) =>
  (from: string, to: string): Fault => ({ file, from, to });

const scalars = fault('compiler/stages/scalars.ts');
const expression = fault('compiler/stages/expression.ts');
const lowering = fault('compiler/stages/lower_stage.ts');
const modes = fault('compiler/stages/modes.ts');
const definitions = fault('compiler/stages/definitions.ts');
const folding = fault('compiler/ir/fold.ts');
const simplifier = fault('compiler/ir/simplify.ts');
const computed = fault('compiler/ir/computed.ts');
const branches = fault('compiler/ir/branches.ts');
const nesting = fault('compiler/ir/nesting.ts');
const operations = fault('compiler/ir/operations.ts');
const wasm = fault('compiler/wasm/body.ts');
const c = fault('compiler/c/function.ts');
const support = fault('compiler/c/support.ts');
const literals = fault('compiler/c/literals.ts');

export const faults: readonly Fault[] = [
  // Lowering: an operation swapped, an order changed, a rate or a switch forgotten.
  scalars("return this.relation('lt', kind, y, x, at);", "return this.relation('le', kind, y, x, at);"),
  scalars("return this.relation('le', kind, y, x, at);", "return this.relation('lt', kind, y, x, at);"),
  scalars(
    "return this.notItem(this.relation('eq', kind, x, y, at), at);",
    "return this.relation('eq', kind, x, y, at);",
  ),
  scalars('i < Math.abs(exponent.value); i++', 'i <= Math.abs(exponent.value); i++'),
  scalars(
    "this.arithmetic('div', this.constant(1), result, kind, at)",
    "this.arithmetic('div', result, this.constant(1), kind, at)",
  ),
  scalars("this.subtract(this.constant(0), x, 'int', at)", "this.subtract(x, this.constant(0), 'int', at)"),
  scalars(
    'return { value: this.op(`select_${this.type(kind)}`, c, this.value(x, kind), this.value(y, kind)) };',
    'return { value: this.op(`select_${this.type(kind)}`, c, this.value(y, kind), this.value(x, kind)) };',
  ),
  scalars("{ '+': 'add', '-': 'sub', '*': 'mul', '/': 'div' }", "{ '+': 'sub', '-': 'sub', '*': 'mul', '/': 'div' }"),
  expression(
    "const below = this.relation('lt', 'real', x, zero, at);",
    "const below = this.relation('le', 'real', x, zero, at);",
  ),
  expression("const reached = this.relation('le', 'int',", "const reached = this.relation('lt', 'int',"),
  expression(
    'const [i, j] = [Math.floor(k / q.rows), k % q.rows];',
    'const [j, i] = [Math.floor(k / q.rows), k % q.rows];',
  ),
  expression(
    "if (name === 'sum') return this.binary('+', a, b, e.at);",
    "if (name === 'sum') return this.binary('-', a, b, e.at);",
  ),
  expression('return elements.slice(1).reduce((a, b) => {', 'return elements.slice(1).reverse().reduce((a, b) => {'),
  lowering(
    "this.b.op('eq_i32', beat, this.b.const('i32', zone.phase))",
    "this.b.op('eq_i32', beat, this.b.const('i32', 0))",
  ),
  lowering("on = on === undefined ? value : this.b.op('and_bool', on, value);", 'on = value;'),
  lowering("this.b.store(slot, on === undefined ? ran : this.b.op('and_bool', on, ran));", 'this.b.store(slot, ran);'),
  lowering('for (const transition of transitions) {', 'for (const transition of [...transitions].reverse()) {'),
  lowering('for (const name of transition.from) ways', 'for (const name of transition.from.slice(0, 1)) ways'),
  modes("b.op('lt_i32', old, b.const('i32', first + half))", "b.op('le_i32', old, b.const('i32', first + half))"),
  definitions(
    "byKey.get(keyOf(other.instance.path, 'commit', other.name))?.reads.push(definition.id);",
    "byKey.get(keyOf(other.instance.path, 'commit', other.name));",
  ),
  // Simplifier: an identity that is none, a rounding dropped, a store not seen.
  folding('if (is(y, -0)) return { value: a };', 'if (y === 0) return { value: a };'),
  folding('if (is(y, 0)) return { value: a };', 'if (y === 0) return { value: a };'),
  folding('if (x === -1) return { op: `neg_${type}`, args: [b] };', 'if (x === -1) return { value: b };'),
  folding('args: [a], number: 1 / y }', 'args: [a], number: y }'),
  folding('return (words.getBigUint64(0) & 0xfffffffffffffn) === 0n;', 'return true;'),
  folding(
    'return { op: `select_${type}`, args: [maker.args[0] ?? condition, b, a] };',
    'return { op: `select_${type}`, args: [maker.args[0] ?? condition, a, b] };',
  ),
  folding(
    "if (name === 'f32_from' && maker.op === 'f64_from_f32')",
    "if (name === 'f64_from' && maker.op === 'f32_from_f64')",
  ),
  folding(
    "if (name === 'eq' || name === 'le') return { number: 1 };",
    "if (name === 'eq' || name === 'le' || name === 'lt') return { number: 1 };",
  ),
  folding(
    "if (['add', 'or', 'xor'].includes(name)) return { value: b };",
    "if (['add', 'or', 'xor', 'sub'].includes(name)) return { value: b };",
  ),
  folding(
    "if (y === 1 && (name === 'mul' || name === 'div')) return { value: a };",
    "if (y === 1 && (name === 'mul' || name === 'div' || name === 'rem')) return { value: a };",
  ),
  folding(
    'if (minusB !== undefined) return { op: `sub_${type}`, args: [a, minusB] };',
    'if (minusB !== undefined) return { op: `sub_${type}`, args: [minusB, a] };',
  ),
  simplifier(
    'shared.forget(listEffects([instruction], this.program, this.known).stores);\n    into.push(turned',
    'into.push(turned',
  ),
  simplifier(
    "shared.forget(listEffects([instruction], this.program, this.known).stores);\n    const index = this.fresh('i32');",
    "const index = this.fresh('i32');",
  ),
  simplifier('shared.forget(stepEffects(instruction, this.program, this.known).stores);', ''),
  simplifier("const key = `${type} ${Object.is(value, -0) ? '-0' : value}`;", 'const key = `${type} ${value}`;'),
  computed(
    'if (commutes && own[0] === b && own[1] === a) return made.to;',
    'if (own[0] === b && own[1] === a) return made.to;',
  ),
  simplifier('String(Math.min(number, last))', 'String(Math.min(number, 0))'),
  simplifier('&& !loaded.has(slot) && !keepSlots.has(slot)', '&& !keepSlots.has(slot)'),
  // Left to branches: a value made after a store that it should not see, a question turned round.
  branches('place > i && place < target', 'place > target'),
  branches('branch(value, putFlag(1), putFlag(0))', 'branch(value, putFlag(0), putFlag(1))'),
  branches('place > (stored.get(slot) ?? -1)', 'place > -1'),
  // What both back ends share: a value moved past a store.
  nesting('} else settle(stepEffects(instruction, program, known).stores);', '}'),
  nesting('for (const slot of waiting.loads(arg)) loads.add(slot);', ''),
  // WebAssembly.
  operations("binary('sub', (a, b) => a - b, at(0x93, 0xa1)", "binary('sub', (a, b) => a - b, at(0x92, 0xa0)"),
  operations("compare('lt', (a, b) => a < b, at(0x5d, 0x63)", "compare('lt', (a, b) => a < b, at(0x5f, 0x65)"),
  operations("unary('floor', Math.floor, at(0x8e, 0x9c)", "unary('floor', Math.floor, at(0x8f, 0x9d)"),
  wasm(
    'this.value(b);\n        this.value(c);\n        this.value(a);',
    'this.value(c);\n        this.value(b);\n        this.value(a);',
  ),
  wasm(
    'code.i32GreaterOrEqual, code.select);\n    this.giveLocal',
    'code.i32Greater, code.select);\n    this.giveLocal',
  ),
  wasm('code.i32NotEqual, code.select);', 'code.i32Equal, code.select);'),
  wasm('[code.i32OfF32Bits], 0x7fc00000)', '[code.i32OfF32Bits], 0x7f800000)'),
  wasm('this.clamped(ago, 1, line.length);', 'this.clamped(ago, 0, line.length);'),
  wasm(
    'scalarBytes[slot.type] === 8 ? 3 : 2), code.i32ShiftLeft',
    'scalarBytes[slot.type] === 8 ? 3 : 1), code.i32ShiftLeft',
  ),
  // C.
  operations('c: (a, b) => `${a} ${sign} ${b}`,\n      edges,', 'c: (a, b) => `${b} ${sign} ${a}`,\n      edges,'),
  c(
    "const equality = maker?.do === 'compute' && maker.op.startsWith('eq_') && !/^\\w+$/.test(text);",
    "const equality = maker?.do === 'compute' && maker.op.startsWith('le_') && !/^\\w+$/.test(text);",
  ),
  c('return isPrimary(text) ? text : `(${text})`;', 'return text;'),
  c('${this.operand(instruction.value)} ? 1U : 0U)', '${this.operand(instruction.value)} ? 0U : 1U)'),
  c('Math.min(Math.max(range.low, 0), length - 1)', 'Math.min(Math.max(range.low, 0), 0)'),
  support('const uint32_t by = (uint32_t)b & 31U;', 'const uint32_t by = (uint32_t)b & 15U;'),
  support('return ((b == 0) || (b == -1)) ? 0 : (a % b);', 'return ((b == 0) || (b == -1)) ? a : (a % b);'),
  support('back = (ago < 1) ? 1 : length;', 'back = (ago < 1) ? 0 : length;'),
  literals('digits <= 9; digits++', 'digits <= 7; digits++'),
  literals("value < 0 || Object.is(value, -0) ? '-' : ''", "value < 0 ? '-' : ''"),
];
