/** From a block on the sheet and its text to what its card says; no block is known by its name. */

import { parseExpression } from '../language/parser.ts';
import { printExpression } from '../language/print.ts';
import type {
  BlockText,
  Equation,
  Expression,
  SettingDeclaration,
  TypeExpression,
  UnitExpression,
} from '../language/syntax.ts';
import type { BlockOnSheet, Group, GroupPort, Named, SettingValue } from '../sheet/sheet.ts';
import { entry, pointOf } from '../sheet/sheet.ts';
import { compareText } from '../text_order.ts';
import type { CardDescription, PortDescription, RowDescription, SettingDescription } from './card_size.ts';
import { curveOf } from './curve.ts';
import type { PutIn } from './formula.ts';
import type { OpenTerm } from './open_terms.ts';
import { writtenOut } from './open_terms.ts';
import { withoutOnes } from './plain_ones.ts';
import { unitText, valueText } from './symbols.ts';

export type { CardDescription } from './card_size.ts';

/** What the compiler found out; without it a card is drawn from the texts alone. */
export interface SolvedBlock {
  readonly every?: number;
  readonly phase?: number;
  readonly side?: 'plant' | 'controller';
  /** Sizes of vectors whose letters the wires decide. */
  readonly sizes?: Readonly<Record<string, number>>;
}

export interface DescribeOptions {
  readonly flip?: boolean;
  /** Whether the sheet has more than one rate, so that even a card at the base rate has a comb. */
  readonly severalRates?: boolean;
  readonly solved?: SolvedBlock;
}

/** The most settings a card shows below its law, and the most equations. */
const MOST_SETTINGS = 3;
const MOST_EQUATIONS = 3;
/** The longest polynomial written out. */
const MOST_COEFFICIENTS = 5;

/** Describes the card of a block whose text is at hand. */
export function describeCard(
  name: string,
  block: BlockOnSheet,
  text: BlockText,
  options: DescribeOptions = {},
): CardDescription {
  const given = block.set ?? {};
  const values = putInValues(text, given);
  const numbers = settingNumbers(text, given);
  const shown = Object.fromEntries(text.settings.map((setting) => [setting.name, shownValue(setting, given)]));
  const drawnAs = text.drawnAs === 'circle' || text.drawnAs === 'curve' ? text.drawnAs : 'card';
  const curve = drawnAs === 'curve' ? curveOf(text, numbers, settingLists(text, given), shown) : undefined;
  const whole = curve === undefined ? lawOf(text, block) : [];
  const law = whole.map((equation) => withoutOnes(equation, values));
  const ground = groundOf(block, text, options);
  const said = new Set(curve === undefined ? namesIn(whole) : curve.corners.map((corner) => corner.setting));
  return {
    name,
    kind: text.label ?? text.name.replaceAll('_', ' '),
    drawnAs,
    law,
    values,
    ...(curve === undefined ? {} : { curve }),
    settings: settingsShown(
      text,
      given,
      (setting) => said.has(setting) && (curve !== undefined || plainIn(values, setting)),
    ),
    inputs: inputsOf(block, text, options),
    outputs: outputsOf(block, text, options),
    comb: ground === 'all' ? undefined : combOf(block, options),
    ground,
    guards: text.guards,
    rows: rowsOf(block, text),
    flip: options.flip ?? false,
  };
}

/** Describes the card of a group. */
export function describeGroup(
  name: string,
  block: BlockOnSheet,
  group: Group,
  options: DescribeOptions = {},
): CardDescription {
  const ports = (direction: 'in' | 'out') =>
    Object.keys(group.ports)
      .sort()
      .flatMap((port) => {
        const type = groupPortType(entry(group.ports, port), direction);
        return type === undefined ? [] : [groupPort(port, type, options)];
      });
  const when = block.when === undefined ? [] : [`when ${block.when}`];
  return {
    name,
    kind: block.is.replaceAll('_', ' '),
    drawnAs: 'card',
    law: [],
    values: {},
    settings: [
      ...when.map((value) => ({ name: 'runs', value })),
      ...Object.entries(block.set ?? {}).map(([setting, value]) => ({ name: setting, value: settingText(value) })),
    ].slice(0, MOST_SETTINGS),
    inputs: ports('in'),
    outputs: ports('out'),
    comb: combOf(block, options),
    ground: (options.solved?.side ?? block.side) === 'plant' ? 'all' : 'none',
    guards: false,
    rows: [],
    flip: options.flip ?? false,
    inside: insideOf(group),
  };
}

/** Where the blocks of a group stand, and which feeds which. */
function insideOf({ blocks, wires, layout }: Group): NonNullable<CardDescription['inside']> {
  const names = Object.keys(blocks)
    .filter((name) => entry(layout, name) !== undefined)
    .sort(compareText);
  const numberOf = (end: string) => names.indexOf(end.slice(0, Math.max(0, end.indexOf('.'))));
  return {
    blocks: names.map((name) => {
      const [x, y] = pointOf(layout[name] ?? [0, 0]);
      return { x, y };
    }),
    wires: Object.entries(wires)
      .map(([to, from]) => [numberOf(from), numberOf(to)] as const)
      .filter(([from, to]) => from >= 0 && to >= 0 && from !== to),
  };
}

/** A group's port as it is seen from outside. */
export function describePort(
  name: string,
  port: GroupPort | undefined,
): { readonly port: PortDescription; readonly direction: 'in' | 'out' } | undefined {
  for (const direction of ['in', 'out'] as const) {
    const type = groupPortType(port, direction);
    if (type !== undefined) return { port: groupPort(name, type, {}), direction };
  }
  return undefined;
}

function groupPortType(port: GroupPort | undefined, direction: 'in' | 'out'): string | undefined {
  if (port === undefined) return undefined;
  if ('in' in port) return direction === 'in' ? port.in : undefined;
  return direction === 'out' ? port.out : undefined;
}

function groupPort(name: string, type: string, options: DescribeOptions): PortDescription {
  const shape = /^\s*\[([^\]]*)\]/.exec(type)?.[1];
  const sizes = shape?.split(',').map((size) => Number(size.trim()));
  const known = sizes === undefined ? 1 : sizes.reduce((product, size) => product * size, 1);
  const size = options.solved?.sizes?.[name] ?? (Number.isFinite(known) ? known : 1);
  return { name, logic: /^\s*(\[[^\]]*\])?\s*bool\b/.test(type), size, optional: false };
}

/** Display laws if there are any, else the outputs' equations; an output that is a memory or a state is said by its own equation. */
function lawOf(text: BlockText, block: BlockOnSheet): readonly Equation[] {
  if (text.guards) return [];
  const lists = openTerms(block, text);
  if (text.openInputs.length > 0 && [...lists.values()].every((terms) => terms.length === 0)) return [];
  return plainLaw(text).map((equation) => writtenOut(equation, lists));
}

/** Open-ended inputs by the name of their list in the text, in the order in which lists are gone through. */
function openTerms(block: BlockOnSheet, text: BlockText): ReadonlyMap<string, readonly OpenTerm[]> {
  const terms = Object.entries(block.inputs ?? {})
    .sort(([a], [b]) => compareText(a, b))
    .map(([name, kind]) => ({ name, kind }));
  return new Map(
    text.openInputs.map((open) => [
      open.name,
      text.openInputs.length === 1 ? terms : terms.filter((term) => open.kinds.includes(term.kind)),
    ]),
  );
}

function plainLaw(text: BlockText): readonly Equation[] {
  const laws = text.equations.filter((equation) => equation.kind === 'law');
  if (laws.length > 0) return laws.slice(0, MOST_EQUATIONS);
  if (text.drawnAs === 'circle') return [];
  const lines: Equation[] = [];
  for (const output of text.outputs) {
    const equation = text.equations.find((each) => each.kind === 'plain' && each.name === output.name);
    if (equation === undefined) continue;
    const value = equation.value;
    const source = value.kind === 'name' ? value.name : undefined;
    const own = text.equations.filter((each) => (each.kind === 'next' || each.kind === 'rate') && each.name === source);
    for (const line of own.length > 0 ? own : [equation]) if (!lines.includes(line)) lines.push(line);
  }
  for (const rate of text.equations) if (rate.kind === 'rate' && !lines.includes(rate)) lines.push(rate);
  return lines.filter((line) => weight(line.value) <= 24 && drawable(line.value)).slice(0, MOST_EQUATIONS);
}

/** How many things stand in an expression: too many do not fit on a card. */
function weight(expression: Expression): number {
  return 1 + parts(expression).reduce((sum, part) => sum + weight(part), 0);
}

function drawable(expression: Expression): boolean {
  return expression.kind !== 'fold' && parts(expression).every(drawable);
}

function parts(expression: Expression): readonly Expression[] {
  switch (expression.kind) {
    case 'unary':
      return [expression.arg];
    case 'binary':
      return [expression.left, expression.right];
    case 'choose':
      return [expression.condition, expression.then, expression.else];
    case 'call':
      return expression.args;
    case 'index':
      return [expression.base, ...expression.indices];
    case 'matrix':
      return expression.rows.flat();
    case 'each':
      return [expression.body];
    case 'fold':
      return [expression.start, expression.body];
    default:
      return [];
  }
}

function namesIn(law: readonly Equation[]): string[] {
  const found: string[] = [];
  const visit = (expression: Expression): void => {
    if (expression.kind === 'name') found.push(expression.name);
    for (const part of parts(expression)) visit(part);
  };
  for (const equation of law) visit(equation.value);
  return found;
}

function settingLists(text: BlockText, given: Named<SettingValue>): Record<string, readonly number[]> {
  return Object.fromEntries(
    text.settings.flatMap((setting) => {
      const list = listOf(writtenValue(setting, given) ?? entry(given, setting.name));
      return list === undefined ? [] : [[setting.name, list.map(Number)]];
    }),
  );
}

function plainIn(values: Readonly<Record<string, PutIn>>, setting: string): boolean {
  return Object.hasOwn(values, setting) && values[setting]?.coefficients === undefined;
}

/** Plain numbers that stand in the law in place of their settings. */
function putInValues(text: BlockText, given: Named<SettingValue>): Record<string, PutIn> {
  const values: Record<string, PutIn> = {};
  for (const setting of text.settings) {
    const coefficients = listOf(writtenValue(setting, given) ?? entry(given, setting.name));
    if (coefficients !== undefined && coefficients.length <= MOST_COEFFICIENTS)
      values[setting.name] = { number: '', unit: '', coefficients };
    const written = plainNumber(writtenValue(setting, given));
    if (written === undefined) continue;
    const { number, unit } = written;
    values[setting.name] = {
      number,
      unit: unit === undefined || sameUnit(unit, setting.type.unit) ? '' : unitText(unit),
    };
  }
  return values;
}

/** The numbers of a list, as written; undefined for anything else. */
function listOf(value: Expression | SettingValue | undefined): readonly string[] | undefined {
  const list = Array.isArray(value)
    ? value.map((each) =>
        typeof each === 'number'
          ? String(each)
          : typeof each === 'string'
            ? plainNumber(parseExpression(each).value)?.number
            : undefined,
      )
    : isExpression(value) && value.kind === 'matrix' && value.rows.every((row) => row.length === 1)
      ? value.rows.map(([cell]) => plainNumber(cell)?.number)
      : [];
  const numbers = list.filter((each) => each !== undefined);
  return numbers.length > 0 && numbers.length === list.length && numbers.length <= MOST_COEFFICIENTS
    ? numbers
    : undefined;
}

function isExpression(value: Expression | SettingValue | undefined): value is Expression {
  return typeof value === 'object' && 'kind' in value;
}

function sameUnit(written: UnitExpression, declared: UnitExpression | undefined): boolean {
  return written.text.trim() === (declared?.text ?? '').trim();
}

interface PlainNumber {
  readonly number: string;
  readonly unit: UnitExpression | undefined;
  readonly value: number;
}

/** A number with or without a sign and a unit; undefined for anything else. */
function plainNumber(expression: Expression | undefined): PlainNumber | undefined {
  if (expression === undefined) return undefined;
  if (expression.kind === 'unary' && expression.op === '-') {
    const inner = plainNumber(expression.arg);
    return inner === undefined || inner.number.startsWith('-')
      ? undefined
      : { ...inner, number: `-${inner.number}`, value: -inner.value };
  }
  if (expression.kind !== 'number') return undefined;
  const digits = /^[+-]?[\d.]+(?:[eE][+-]?\d+)?/.exec(expression.text.trim())?.[0];
  return digits === undefined ? undefined : { number: digits, unit: expression.unit, value: expression.value };
}

/** The value on the sheet, or the block's own. */
function writtenValue(setting: SettingDeclaration, given: Named<SettingValue>): Expression | undefined {
  const value = entry(given, setting.name);
  if (value === undefined) return setting.value;
  if (typeof value === 'number') return parseExpression(String(value)).value;
  return typeof value === 'string' ? parseExpression(value).value : undefined;
}

function settingNumbers(text: BlockText, given: Named<SettingValue>): Record<string, number> {
  const numbers: Record<string, number> = {};
  for (const setting of text.settings) {
    const number = plainNumber(writtenValue(setting, given));
    if (number !== undefined) numbers[setting.name] = number.value;
  }
  return numbers;
}

function shownValue(setting: SettingDeclaration, given: Named<SettingValue>): string {
  const value = entry(given, setting.name);
  if (typeof value === 'number' && setting.type.unit !== undefined && !hasLetter(setting.type.unit))
    return valueText(`${value} ${setting.type.unit.text}`);
  if (value !== undefined) return settingText(value);
  const own = plainNumber(setting.value);
  if (own === undefined) return valueText(printExpression(setting.value));
  const unit =
    own.unit ?? (setting.type.unit !== undefined && !hasLetter(setting.type.unit) ? setting.type.unit : undefined);
  return valueText(`${own.number} ${unit?.text ?? ''}`);
}

/** Whether a unit has letters that wires decide, so that it cannot be printed. */
function hasLetter(unit: UnitExpression): boolean {
  return unit.factors.some((factor) => /^[A-Z]\d*$/.test(factor.symbol) && !'NJWVCFHTAK'.includes(factor.symbol));
}

/** A setting's value as a person would write it. */
export function settingText(value: SettingValue): string {
  if (typeof value === 'string') return valueText(value);
  if (typeof value === 'number') return valueText(String(value));
  if (typeof value === 'boolean') return value ? 'yes' : 'no';
  return `[${value.map(settingText).join(value.some((each) => Array.isArray(each)) ? '; ' : ', ')}]`
    .replace(/\[\[/g, '[')
    .replace(/\]; \[/g, '; ')
    .replace(/\]\]/g, ']');
}

/** What is put on the sheet and not said in the law; where that leaves no blank at all, the block's first settings. */
function settingsShown(
  text: BlockText,
  given: Named<SettingValue>,
  isSaid: (name: string) => boolean,
): SettingDescription[] {
  const unsaid = text.settings.filter((setting) => !isSaid(setting.name));
  const shown = (setting: SettingDeclaration) => ({ name: setting.name, value: shownValue(setting, given) });
  const builds = text.builds.flatMap((build) => {
    const value = entry(given, build.name);
    return value === undefined ? [] : [{ name: build.name, value: settingText(value) }];
  });
  const put = [...unsaid.filter((setting) => entry(given, setting.name) !== undefined).map(shown), ...builds];
  const hasBlank = put.length > 0 || unsaid.length < text.settings.length;
  return (hasBlank ? put : unsaid.slice(0, 2).map(shown)).slice(0, MOST_SETTINGS);
}

function inputsOf(block: BlockOnSheet, text: BlockText, options: DescribeOptions): PortDescription[] {
  const plain = text.inputs.map((input) => port(input.name, input.type, options, input.fallback !== undefined));
  const open = text.openInputs.at(-1);
  if (open === undefined) return plain;
  const named = Object.keys(block.inputs ?? {})
    .filter((name) => !plain.some((each) => each.name === name))
    .sort(compareText)
    .map((name) => {
      const kind = entry(block.inputs ?? {}, name) ?? '';
      const own = text.openInputs.find((each) => each.kinds.includes(kind)) ?? open;
      const saysKind = isSign(kind) || (!text.guards && own.kinds.indexOf(kind) > 0);
      return { ...port(name, own.type, options, false), ...(saysKind ? { sign: kind } : {}) };
    });
  return [...plain, ...named];
}

function isSign(kind: string): boolean {
  return /^[+\-*/]$/.test(kind);
}

function outputsOf(block: BlockOnSheet, text: BlockText, options: DescribeOptions): PortDescription[] {
  const plain = text.outputs.map((output) => port(output.name, output.type, options, false));
  const open = text.openOutputs.flatMap((output) => {
    const words = entry(block.set ?? {}, output.name);
    return Array.isArray(words) ? words.map((word) => port(String(word), output.type, options, false)) : [];
  });
  const mode = text.modes.length > 0 && !plain.some((each) => each.name === 'mode') ? [modePort] : [];
  return [...plain, ...open, ...mode];
}

const modePort: PortDescription = { name: 'mode', logic: false, size: 1, optional: false };

function port(name: string, type: TypeExpression, options: DescribeOptions, optional: boolean): PortDescription {
  const sizes = type.shape.map((size) => (size.kind === 'number' ? size.value : 1));
  const size = options.solved?.sizes?.[name] ?? sizes.reduce((product, each) => product * each, 1);
  return { name, logic: type.base === 'bool', size, optional };
}

function combOf(block: BlockOnSheet, options: DescribeOptions): CardDescription['comb'] {
  const every = options.solved?.every ?? block.every ?? 1;
  const phase = options.solved?.phase ?? block.phase ?? 0;
  return every === 1 && options.severalRates !== true ? undefined : { every, phase };
}

function groundOf(block: BlockOnSheet, text: BlockText, options: DescribeOptions): CardDescription['ground'] {
  const directions = new Set(text.channels.map((channel) => channel.direction));
  if (directions.size === 1) return directions.has('in') ? 'inputs' : 'outputs';
  if (directions.size === 2) return 'none';
  const side =
    options.solved?.side ??
    block.side ??
    text.side ??
    (text.memories.some((memory) => memory.kind === 'state') ? 'plant' : undefined);
  return side === 'plant' ? 'all' : 'none';
}

/** A guarding block's open-ended inputs are its reasons and trips: kinds that hold it back before, or stop it after. */
function rowsOf(block: BlockOnSheet, text: BlockText): RowDescription[] {
  if (!text.guards) return [];
  return Object.entries(block.inputs ?? {})
    .sort(([a], [b]) => compareText(a, b))
    .map(([name, kind]) => ({ port: name, role: /trip/.test(kind) ? 'trip' : 'reason' }));
}
