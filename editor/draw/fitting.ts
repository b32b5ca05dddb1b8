/** Which ports may be joined: by direction, kind of value, size and unit, as far as these are known before compiling. */

import { parseUnit } from '../../compiler/language/parser.ts';
import type { BlockText, TypeExpression, UnitExpression } from '../../compiler/language/syntax.ts';
import { dimensionless, sameDimension, unitOf } from '../../compiler/language/units.ts';
import type { BlockOnSheet, Sheet } from '../../compiler/sheet/sheet.ts';
import { entry } from '../../compiler/sheet/sheet.ts';
import { endOf, groundOf, type Passage } from '../document/edits.ts';
import { blockOf, type Mark } from '../session.ts';
import type { Workbench } from '../workbench.ts';
import { textOf } from './shelf_items.ts';

export interface PortFacts {
  readonly name: string;
  readonly base: 'real' | 'bool' | 'int';
  readonly unit: UnitExpression | undefined;
  /** As written: `rad/s`, `3 values`. */
  readonly words: string;
  readonly scalar: boolean;
  /** It need not be wired. */
  readonly optional: boolean;
}

export interface BlockPorts {
  readonly inputs: readonly PortFacts[];
  readonly outputs: readonly PortFacts[];
  /** Kinds of input that can be added: `+`, `-`. */
  readonly kinds: readonly { readonly kind: string; readonly facts: PortFacts }[];
}

const NONE: BlockPorts = { inputs: [], outputs: [], kinds: [] };

/** The ports of a block as it stands on the sheet. */
export function portsOf(sheet: Sheet, block: BlockOnSheet): BlockPorts {
  const own = entry(sheet.shelf, block.is);
  if (typeof own === 'object') {
    const port = ([name, { type }]: [string, { type: string }]): PortFacts => groupPort(name, type);
    const inputs = Object.entries(own.ports).flatMap(([name, it]) =>
      'in' in it ? [port([name, { type: it.in }])] : [],
    );
    const outputs = Object.entries(own.ports).flatMap(([name, it]) =>
      'out' in it ? [port([name, { type: it.out }])] : [],
    );
    return { inputs, outputs, kinds: [] };
  }
  const text = textOf(sheet, block.is);
  if (text === undefined) return NONE;
  const kinds = text.openInputs.flatMap((open) =>
    (open.kinds.length > 0 ? open.kinds : [open.name]).map((kind) => ({
      kind,
      facts: factsOf(open.name, open.type, false),
    })),
  );
  const added = Object.entries(block.inputs ?? {}).map(([name, kind]) => {
    const facts = kinds.find((one) => one.kind === kind)?.facts ?? kinds[0]?.facts;
    return facts === undefined ? groupPort(name, '') : { ...facts, name };
  });
  const inputs = text.inputs.map((one) => factsOf(one.name, one.type, one.fallback !== undefined));
  return { inputs: [...inputs, ...added], outputs: outputsOf(text, block), kinds };
}

/** The ports of a block by its name; of the group around, as they are seen from inside it, for the empty name. */
export function portsAt(sheet: Sheet, scope: string, name: string): BlockPorts | undefined {
  if (name !== '') {
    const block = groundOf(sheet, scope)?.blocks[name];
    return block === undefined ? undefined : portsOf(sheet, block);
  }
  if (scope === '' || typeof entry(sheet.shelf, scope) !== 'object') return undefined;
  const { inputs, outputs } = portsOf(sheet, { is: scope });
  return { inputs: outputs, outputs: inputs, kinds: [] };
}

function outputsOf(text: BlockText, block: BlockOnSheet): PortFacts[] {
  const open = text.openOutputs.flatMap((one) => {
    const words = block.set?.[one.name];
    const names = Array.isArray(words) ? words.filter((word): word is string => typeof word === 'string') : [];
    return names.map((name) => factsOf(name, one.type, false));
  });
  const mode: PortFacts[] =
    text.modes.length > 0
      ? [{ name: 'mode', base: 'int', unit: undefined, words: 'mode', scalar: true, optional: false }]
      : [];
  return [...text.outputs.map((one) => factsOf(one.name, one.type, false)), ...open, ...mode];
}

function factsOf(name: string, type: TypeExpression, optional: boolean): PortFacts {
  const sizes = type.shape.map((size) => (size.kind === 'number' ? size.value : 0));
  const many = sizes.some((size) => size > 1) ? `${sizes.join(' by ')} values` : '';
  const unit = type.unit?.text ?? '';
  const words = type.base === 'real' ? [many, unit].filter((word) => word !== '').join(' of ') : type.base;
  return {
    name,
    base: type.base,
    unit: type.each ? undefined : type.unit,
    words,
    scalar: type.shape.length === 0,
    optional,
  };
}

function groupPort(name: string, type: string): PortFacts {
  const base = /\bbool\b/.test(type) ? 'bool' : /\bint\b/.test(type) ? 'int' : 'real';
  const unit = base === 'real' ? parseUnit(type.replace(/^\s*\[[^\]]*\]\s*/, '')).value : undefined;
  return { name, base, unit, words: type, scalar: !type.includes('['), optional: false };
}

/** True, or a sentence that says why an output cannot feed an input. */
export function mayFeed(output: PortFacts, input: PortFacts): true | string {
  if (output.base !== input.base)
    return `${output.name} gives ${kindWords(output)}; ${input.name} takes ${kindWords(input)}.`;
  const [a, b] = [unitDimension(output.unit), unitDimension(input.unit)];
  if (a === undefined || b === undefined || sameDimension(a, b)) return true;
  return `${output.name} is in ${output.unit?.text ?? 'no unit'}; ${input.name} takes ${input.unit?.text ?? 'no unit'}.`;
}

function kindWords(port: PortFacts): string {
  return { bool: 'yes or no', int: 'whole numbers', real: 'numbers' }[port.base];
}

/** The dimension of a unit, where it is known without solving; no unit on a port is open in practice (bare numbers). */
function unitDimension(unit: UnitExpression | undefined): readonly number[] | undefined {
  if (unit === undefined || unit.factors.length === 0) return undefined;
  const known = unitOf(unit);
  if ('unknown' in known || Object.keys(known.letters).length > 0) return undefined;
  return sameDimension(known.dimension, dimensionless) ? undefined : known.dimension;
}

/** A port's full name; a port of the group around has no block. */
export function nameOfEnd(block: string, port: string): string {
  return block === '' ? port : `${block}.${port}`;
}

/** A port that a line from `from` may end at; `add` says that it is an input to be made, of that kind. */
export interface Candidate {
  readonly block: string;
  readonly port: string;
  readonly add?: string;
  /** The input takes something already. */
  readonly taken: boolean;
  /** It need not be wired. */
  readonly optional: boolean;
  readonly words: string;
}

/** The ports of a port's own block facts. */
export function factsAt(sheet: Sheet, scope: string, mark: Mark): PortFacts | undefined {
  const ports = portsAt(sheet, scope, blockOf(mark));
  return ports?.[mark.on === 'output' ? 'outputs' : 'inputs'].find(({ name }) => name === endOf(mark.at).port);
}

/** Every port a line from `from` may end at: what waits for a line first, then what may take one, then what has one; its own block last. */
export function candidates(sheet: Sheet, scope: string, from: Mark): Candidate[] {
  const facts = factsAt(sheet, scope, from);
  const place = groundOf(sheet, scope);
  if (facts === undefined || place === undefined) return [];
  const found: Candidate[] = [];
  for (const name of ['', ...Object.keys(place.blocks)]) {
    const ports = portsAt(sheet, scope, name);
    if (ports === undefined) continue;
    if (from.on === 'input') {
      for (const { name: port, words } of ports.outputs.filter((one) => mayFeed(one, facts) === true))
        found.push({ block: name, port, taken: false, optional: false, words });
      continue;
    }
    for (const { name: port, optional, words } of ports.inputs.filter((one) => mayFeed(facts, one) === true))
      found.push({ block: name, port, taken: nameOfEnd(name, port) in place.wires, optional, words });
    for (const { kind } of ports.kinds.filter((one) => mayFeed(facts, one.facts) === true))
      found.push({ block: name, port: '', add: kind, taken: false, optional: true, words: 'one more' });
  }
  const rank = (one: Candidate) =>
    (one.taken ? 3 : one.add !== undefined ? 2 : one.optional ? 1 : 0) + (one.block === blockOf(from) ? 4 : 0);
  return found.sort((a, b) => rank(a) - rank(b));
}

/** The port of a block not yet placed that fits a hanging line. */
export function fittingInput(workbench: Workbench, from: Mark, is: string): string | undefined {
  const sheet = workbench.document.sheet();
  const facts = factsAt(sheet, workbench.session.getState().scope, from);
  if (facts === undefined) return undefined;
  const ports = portsOf(sheet, newBlock(sheet, is));
  const fitting =
    from.on === 'output'
      ? ports.inputs.find((port) => mayFeed(facts, port) === true)
      : ports.outputs.find((port) => mayFeed(port, facts) === true);
  return fitting?.name;
}

/** A block as it is first put on a sheet: open-ended inputs start with one of each kind. */
export function newBlock(sheet: Sheet, is: string): BlockOnSheet {
  const { kinds } = portsOf(sheet, { is });
  if (kinds.length === 0) return { is };
  const inputs = kinds.length === 1 ? [...kinds, ...kinds] : kinds;
  return { is, inputs: Object.fromEntries(inputs.map(({ kind }, index) => [String.fromCharCode(97 + index), kind])) };
}

/** How a line goes straight through a block: its first wired input (or its first), and its first output. */
export function passageOf(sheet: Sheet, scope: string, name: string): Passage | undefined {
  const place = groundOf(sheet, scope);
  const block = place?.blocks[name];
  if (place === undefined || block === undefined) return undefined;
  const { inputs, outputs } = portsOf(sheet, block);
  const output = outputs[0];
  const alike = inputs.filter((port) => port.base === output?.base);
  const input = alike.find((port) => `${name}.${port.name}` in place.wires) ?? alike[0];
  return input === undefined || output === undefined ? undefined : { input: input.name, output: output.name };
}
