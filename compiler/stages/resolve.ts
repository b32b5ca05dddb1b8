/** Second stage: every block gets its build values, sizes, rate and side, and every setting its numbers. */

import type { Finding, Repair } from '../findings.ts';
import { HostGraph } from '../language/host_value.ts';
import type {
  BlockText,
  BuildDeclaration,
  Expression,
  SettingDeclaration,
  TypeExpression,
} from '../language/syntax.ts';
import { namesIn, standsOn } from '../language/walk.ts';
import type { SettingValue, Sheet } from '../sheet/sheet.ts';
import { Allowance, type BlockAllowance } from './allowance.ts';
import { type Flat, type FlatBlock, outputNames, type Source } from './expand.ts';
import { lowerExpression } from './expression.ts';
import { type Quantity, type Scope, scalar } from './quantity.ts';
import { resolveRates } from './rates.ts';
import { type SheetValue, SheetValues } from './sheet_value.ts';
import { resolveSides, type Side } from './sides.ts';

/** What a build setting is put to. */
export type Build =
  | { readonly type: 'int' | 'bool'; readonly value: number }
  | { readonly type: 'word' | 'text'; readonly word: string }
  | { readonly type: 'texts'; readonly words: readonly string[] };

/** A setting's numbers, row by row. */
export interface SettingNumbers {
  readonly kind: 'real' | 'int' | 'bool';
  readonly rows: number;
  readonly columns: number;
  readonly numbers: readonly number[];
}

/** Type and shape of a port, memory or setting. */
export interface Signal {
  readonly kind: 'real' | 'int' | 'bool';
  readonly rows: number;
  readonly columns: number;
}

/** One block with everything decided that its equations need. */
export interface Instance {
  readonly path: string;
  readonly flat: FlatBlock;
  readonly every: number;
  readonly phase: number;
  /** Seconds between its ticks. */
  readonly period: number;
  readonly side: Side;
  readonly builds: ReadonlyMap<string, Build>;
  readonly sizes: ReadonlyMap<string, number>;
  readonly settings: ReadonlyMap<string, SettingNumbers>;
  /** Every declared name with a type: inputs, outputs, settings, memories, channels, mode. */
  readonly signals: ReadonlyMap<string, Signal>;
}

export interface Resolved {
  readonly instances: ReadonlyMap<string, Instance>;
  readonly values: SheetValues;
  readonly tick: number;
}

/** A block while sizes are still being found. */
interface Draft {
  readonly flat: FlatBlock;
  readonly builds: Map<string, Build>;
  readonly sizes: Map<string, number>;
  readonly given: Map<string, SheetValue>;
}

const SIZE_LIMIT = 4096;

export function resolve(sheet: Sheet, flat: Flat, findings: Finding[]): Resolved | undefined {
  const values = new SheetValues(sheet);
  const tick = values.seconds(sheet.tick);
  if (tick === undefined || tick <= 0) {
    findings.push({ id: 'bad_tick', level: 'error', at: { path: '' }, facts: { value: String(sheet.tick) } });
    return undefined;
  }
  const drafts = new Map<string, Draft>();
  for (const [path, block] of flat.blocks) drafts.set(path, draft(block, values, findings));
  solveSizes(drafts);
  const sides = resolveSides(flat);
  const rates = resolveRates(flat, sides, findings);
  const allowance = new Allowance();
  const instances = new Map<string, Instance>();
  for (const [path, item] of drafts) {
    const rate = rates.get(path) ?? { every: 1, phase: 0 };
    const settings = settingNumbers(item, tick, tick * rate.every, allowance.of(path), findings);
    instances.set(path, {
      path,
      flat: item.flat,
      every: rate.every,
      phase: rate.phase,
      period: tick * rate.every,
      side: sides.get(path) ?? 'controller',
      builds: item.builds,
      sizes: item.sizes,
      settings,
      signals: signalsOf(item, findings),
    });
  }
  return { instances, values, tick };
}

// —— build settings and given values ——

function draft(block: FlatBlock, values: SheetValues, findings: Finding[]): Draft {
  const builds = new Map<string, Build>();
  const given = new Map<string, SheetValue>();
  const item: Draft = { flat: block, builds, sizes: new Map(), given };
  for (const build of block.text.builds) {
    const value = block.set.get(build.name);
    const read = value === undefined ? undefined : readBuild(build, value, values);
    if (typeof read === 'string')
      findings.push(troubleAt(block, build.name, 'wrong_build', { value: String(value), wanted: read }));
    const chosen = typeof read === 'object' ? read : defaultBuild(build, item);
    if (chosen !== undefined) builds.set(build.name, chosen);
  }
  for (const setting of block.text.settings) {
    const value = block.set.get(setting.name);
    if (value === undefined) continue;
    const read = values.read(value);
    if ('id' in read) findings.push(troubleAt(block, setting.name, read.id, read.facts));
    else given.set(setting.name, read);
  }
  return item;
}

function troubleAt(
  block: FlatBlock,
  name: string,
  id: string,
  facts: Readonly<Record<string, string>>,
  repair?: Repair,
): Finding {
  return {
    id,
    level: 'error',
    at: { path: `${block.path}.${name}` },
    facts: { setting: name, ...facts },
    ...(repair === undefined ? {} : { repair }),
  };
}

/** A build value, or in words what was wanted instead. */
function readBuild(build: BuildDeclaration, value: SettingValue, values: SheetValues): Build | string {
  switch (build.type) {
    case 'text':
      return typeof value === 'string' ? { type: 'text', word: value } : 'a text';
    case 'texts':
      return Array.isArray(value) && value.every((word) => typeof word === 'string')
        ? { type: 'texts', words: value as readonly string[] }
        : 'a list of texts';
    case 'word':
      return typeof value === 'string' && build.words.includes(value)
        ? { type: 'word', word: value }
        : `one of ${build.words.join(', ')}`;
    case 'bool':
      return typeof value === 'boolean' ? { type: 'bool', value: value ? 1 : 0 } : 'true or false';
    case 'int': {
      const read = values.read(value);
      const number = 'id' in read ? undefined : read.numbers[0];
      if (number === undefined || !Number.isInteger(number) || Math.abs(number) > 2147483647) return 'a whole number';
      const [low, high] = [constantOf(build.bounds.from), constantOf(build.bounds.to)];
      if ((low !== undefined && number < low) || (high !== undefined && number > high))
        return `a whole number from ${low ?? 'any'} to ${high ?? 'any'}`;
      return { type: 'int', value: number };
    }
  }
}

function defaultBuild(build: BuildDeclaration, item: Draft): Build | undefined {
  const e = build.value;
  if (build.type === 'word' || build.type === 'text')
    return e.kind === 'word' ? { type: build.type, word: e.word } : undefined;
  if (build.type === 'texts')
    return {
      type: 'texts',
      words: e.kind === 'matrix' ? e.rows.flat().flatMap((word) => (word.kind === 'word' ? [word.word] : [])) : [],
    };
  const value = sizeOf(e, item);
  return value === undefined ? undefined : { type: build.type, value };
}

function constantOf(e: Expression | undefined): number | undefined {
  if (e === undefined) return undefined;
  if (e.kind === 'number') return e.value;
  if (e.kind === 'unary' && e.op === '-') {
    const inner = constantOf(e.arg);
    return inner === undefined ? undefined : -inner;
  }
  return undefined;
}

// —— sizes ——

/** A size: numbers, build settings, letters, and sums, differences or products of those; undefined while a letter is open. */
function sizeOf(e: Expression, item: Draft): number | undefined {
  switch (e.kind) {
    case 'number':
      return e.value;
    case 'name': {
      const build = item.builds.get(e.name);
      if (build !== undefined && 'value' in build) return build.value;
      if (build?.type === 'texts') return build.words.length;
      if (e.name === 'true' || e.name === 'false') return e.name === 'true' ? 1 : 0;
      return item.sizes.get(e.name);
    }
    case 'unary': {
      const inner = sizeOf(e.arg, item);
      return inner === undefined ? undefined : -inner;
    }
    case 'binary': {
      const [a, b] = [sizeOf(e.left, item), sizeOf(e.right, item)];
      if (a === undefined || b === undefined) return undefined;
      return e.op === '+' ? a + b : e.op === '-' ? a - b : e.op === '*' ? a * b : undefined;
    }
    default:
      return undefined;
  }
}

function shapeOf(type: TypeExpression, item: Draft): readonly [number, number] | undefined {
  const [first, second] = type.shape;
  if (first === undefined) return [1, 1];
  const rows = sizeOf(first, item);
  const columns = second === undefined ? 1 : sizeOf(second, item);
  return rows === undefined || columns === undefined ? undefined : [rows, columns];
}

/** A bare letter in a declared shape takes the size found there, unless it has one. */
function learn(type: TypeExpression, shape: readonly [number, number], item: Draft): boolean {
  let learned = false;
  for (const [i, e] of type.shape.entries()) {
    const size = shape[i];
    if (e.kind !== 'name' || size === undefined || sizeOf(e, item) !== undefined) continue;
    item.sizes.set(e.name, size);
    learned = true;
  }
  return learned;
}

function solveSizes(drafts: ReadonlyMap<string, Draft>): void {
  for (const item of drafts.values())
    for (const setting of item.flat.text.settings) {
      const value = item.given.get(setting.name);
      if (value !== undefined) learn(setting.type, [value.rows, value.columns], item);
    }
  for (const item of drafts.values())
    for (const setting of item.flat.text.settings)
      if (!item.given.has(setting.name) && setting.value.kind === 'matrix' && setting.type.shape.length > 0)
        learn(setting.type, [setting.value.rows.length, setting.value.rows[0]?.length ?? 1], item);
  const waiting = sizedWires(drafts);
  const touching = new Map<Draft, SizedWire[]>();
  for (const wire of waiting)
    for (const end of [wire.item, wire.from]) {
      const wires = touching.get(end);
      if (wires === undefined) touching.set(end, [wire]);
      else wires.push(wire);
    }
  const lookAgain = (end: Draft): void => {
    for (const wire of touching.get(end) ?? []) waiting.push(wire);
  };
  for (const { declared, item, type, from, element } of waiting) {
    const shape = element === undefined ? shapeOf(type, from) : ([1, 1] as const);
    if (shape !== undefined && learn(declared, shape, item)) lookAgain(item);
    const wanted = shapeOf(declared, item);
    if (element === undefined && wanted !== undefined && learn(type, wanted, from)) lookAgain(from);
  }
  for (const item of drafts.values()) {
    for (const type of inputTypes(item.flat).values()) learn(type, [1, 1], item);
    for (const { type } of item.flat.text.outputs) learn(type, [1, 1], item);
    for (const { type } of item.flat.text.settings) learn(type, [1, 1], item);
  }
}

/** A wire into an input of a declared shape, with what is declared at both its ends. */
interface SizedWire {
  readonly declared: TypeExpression;
  readonly item: Draft;
  readonly type: TypeExpression;
  readonly from: Draft;
  readonly element: number | undefined;
}

function sizedWires(drafts: ReadonlyMap<string, Draft>): SizedWire[] {
  const found: SizedWire[] = [];
  for (const item of drafts.values())
    for (const [name, declared] of inputTypes(item.flat)) {
      const source = item.flat.wires.get(name);
      if (source === undefined || declared.shape.length === 0) continue;
      const from = drafts.get(source.path);
      const type = from?.flat.text.outputs.find((output) => output.name === source.port)?.type;
      if (from !== undefined && type !== undefined) found.push({ declared, item, type, from, element: source.element });
    }
  return found;
}

/** What a text declares of its own inputs, the same for every block of it. */
const typesByText = new WeakMap<BlockText, ReadonlyMap<string, TypeExpression>>();

/** What is declared of every input, the open-ended ones by the names the sheet gives them. */
function inputTypes({ text, inputs }: FlatBlock): ReadonlyMap<string, TypeExpression> {
  let own = typesByText.get(text);
  if (own === undefined) {
    own = new Map(text.inputs.map((input) => [input.name, input.type]));
    typesByText.set(text, own);
  }
  if (inputs.length === 0) return own;
  const types = new Map(own);
  for (const input of inputs) {
    const open = text.openInputs.find((list) => list.kinds.length === 0 || list.kinds.includes(input.kind));
    if (open !== undefined) types.set(input.name, open.type);
  }
  return types;
}

// —— signals ——

function signalsOf(item: Draft, findings: Finding[]): Map<string, Signal> {
  const { text } = item.flat;
  const signals = new Map<string, Signal>();
  const put = (name: string, type: TypeExpression): void => {
    const [rows, columns] = shapeOf(type, item) ?? [1, 1];
    if (
      !Number.isInteger(rows) ||
      !Number.isInteger(columns) ||
      rows < 0 ||
      columns < 0 ||
      rows * columns > SIZE_LIMIT
    ) {
      findings.push(troubleAt(item.flat, name, 'bad_size', { size: `${rows}, ${columns}` }));
      signals.set(name, { kind: type.base, rows: 1, columns: 1 });
    } else signals.set(name, { kind: type.base, rows, columns });
  };
  for (const [name, type] of inputTypes(item.flat)) put(name, type);
  for (const declared of [...text.outputs, ...text.settings, ...text.memories]) put(declared.name, declared.type);
  for (const open of text.openOutputs)
    for (const name of outputNames(item.flat)) if (!signals.has(name)) put(name, open.type);
  for (const channel of text.channels) signals.set(channel.name, { kind: channel.type, rows: 1, columns: 1 });
  if (text.modes.length > 0) signals.set('mode', { kind: 'int', rows: 1, columns: 1 });
  return signals;
}

// —— settings ——

function settingNumbers(
  item: Draft,
  tick: number,
  period: number,
  allowance: BlockAllowance,
  findings: Finding[],
): Map<string, SettingNumbers> {
  const { flat } = item;
  const result = new Map<string, SettingNumbers>();
  const graph = new HostGraph();
  const byName = new Map(flat.text.settings.map((setting) => [setting.name, setting]));
  const begun = new Set<string>();
  const of = (setting: SettingDeclaration): SettingNumbers | undefined => {
    if (!begun.has(setting.name))
      for (const name of standsOn(setting.name, openSettings)) {
        const other = byName.get(name);
        if (other === undefined || begun.has(name)) continue;
        begun.add(name);
        const numbers = numbersOf(other);
        if (numbers !== undefined) result.set(name, numbers);
      }
    return result.get(setting.name);
  };
  const openSettings = (name: string): string[] => {
    const { value, bounds } = byName.get(name) ?? {};
    const read = item.given.has(name) ? Object.values(bounds ?? {}) : [value];
    return read.flatMap(namesIn).filter((one) => byName.has(one) && !begun.has(one));
  };
  const scope = (setting: SettingDeclaration): Scope => ({
    graph,
    allowance,
    runTime: undefined,
    tick,
    period,
    list: () => undefined,
    name: (name) => {
      if (name === 'dt') return scalar('real', { host: graph.constant(period) });
      const other = byName.get(name);
      const numbers = other === undefined ? undefined : of(other);
      if (numbers !== undefined) return fromNumbers(numbers, graph);
      const size = item.sizes.get(name) ?? sizeOf({ kind: 'name', name, at: setting.at }, item);
      if (size !== undefined) return scalar('int', { host: graph.constant(size) });
      findings.push(troubleAt(flat, setting.name, 'unknown_name', { name, value: '' }));
      return undefined;
    },
    report: (id, facts) => {
      findings.push(troubleAt(flat, setting.name, id, facts));
    },
  });
  const evaluate = (e: Expression, setting: SettingDeclaration): SheetValue | undefined => {
    const quantity = lowerExpression(e, scope(setting));
    return quantity === undefined ? undefined : hostValue(quantity);
  };
  const numbersOf = (setting: SettingDeclaration): SettingNumbers | undefined => {
    const value = item.given.get(setting.name) ?? evaluate(setting.value, setting);
    if (value === undefined) return undefined;
    const [rows, columns] = shapeOf(setting.type, item) ?? [1, 1];
    let numbers = value.numbers;
    if (numbers.length === 1 && rows * columns > 1 && !item.given.has(setting.name))
      numbers = new Array<number>(rows * columns).fill(numbers[0] ?? 0);
    else if (value.rows !== rows || value.columns !== columns) {
      findings.push(
        troubleAt(flat, setting.name, 'wrong_size', {
          wanted: sizeWords(rows, columns),
          got: sizeWords(value.rows, value.columns),
        }),
      );
      return undefined;
    }
    const kind = setting.type.base;
    if ((kind === 'bool') !== (value.kind === 'bool') || (kind === 'int' && !numbers.every(Number.isInteger))) {
      findings.push(troubleAt(flat, setting.name, 'wrong_type', { wanted: kindWords[kind], got: valueWords(value) }));
      return undefined;
    }
    if (item.given.has(setting.name)) checkBounds(setting, numbers, (e) => evaluate(e, setting)?.numbers[0]);
    return { kind, rows, columns, numbers };
  };
  const checkBounds = (
    setting: SettingDeclaration,
    numbers: readonly number[],
    bound: (e: Expression) => number | undefined,
  ): void => {
    for (const { of, words, holds } of BOUNDS) {
      const e = setting.bounds[of];
      const limit = e === undefined ? undefined : bound(e);
      const bad = limit === undefined ? undefined : numbers.find((x) => !holds(x, limit));
      if (bad !== undefined)
        findings.push(
          troubleAt(flat, setting.name, 'outside_bounds', { value: String(bad), bound: `${words} ${limit}` }),
        );
    }
  };
  for (const setting of flat.text.settings) of(setting);
  return result;
}

/** What a declaration may say of a setting's numbers. */
const BOUNDS = [
  { of: 'above', words: 'above', holds: (x: number, limit: number) => x > limit },
  { of: 'below', words: 'below', holds: (x: number, limit: number) => x < limit },
  { of: 'from', words: 'at least', holds: (x: number, limit: number) => x >= limit },
  { of: 'to', words: 'at most', holds: (x: number, limit: number) => x <= limit },
] as const;

export function fromNumbers(numbers: SettingNumbers, graph: HostGraph): Quantity {
  return {
    kind: numbers.kind,
    rows: numbers.rows,
    columns: numbers.columns,
    items: numbers.numbers.map((number) => ({ host: graph.constant(number) })),
  };
}

function hostValue(quantity: Quantity): SheetValue {
  return {
    kind: quantity.kind,
    rows: quantity.rows,
    columns: quantity.columns,
    numbers: quantity.items.map((entry) => entry.host?.value ?? Number.NaN),
    word: quantity.word,
    unit: undefined,
  };
}

const kindWords = { real: 'a number', int: 'a whole number', bool: 'true or false' } as const;

function valueWords(value: SheetValue): string {
  return value.kind === 'bool' ? 'true or false' : value.kind === 'word' ? 'a word' : `${value.numbers[0]}`;
}

function sizeWords(rows: number, columns: number): string {
  return rows === 1 && columns === 1 ? 'one number' : columns === 1 ? `${rows} numbers` : `${rows} rows of ${columns}`;
}

/** The signal at the far end of a wire; undefined when the source was not found. */
export function sourceSignal(instances: ReadonlyMap<string, Instance>, source: Source): Signal | undefined {
  const signal = instances.get(source.path)?.signals.get(source.port);
  if (signal === undefined || source.element === undefined) return signal;
  return { kind: signal.kind, rows: 1, columns: 1 };
}
