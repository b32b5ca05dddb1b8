/** What is asked of a sheet's linear model, in names of the sheet: where it is excited, watched, cut, and what is held. */

import type { Finding } from '../findings.ts';
import type { Compiled } from '../stages/compiled.ts';
import { parsePort, type Source } from '../stages/expand.ts';
import { findReadable, type Readable } from '../stages/readable.ts';
import type { Instance } from '../stages/resolve.ts';

/** In names as on the sheet; values as a setting would say them. */
export interface SheetRequest {
  readonly from: readonly string[];
  readonly to: readonly string[];
  /** Wires that are cut, by the input they feed or by the output they come from. */
  readonly cut: readonly string[];
  readonly hold: Readonly<Record<string, number | string | boolean>>;
}

/** One value of the sheet. */
export interface Place {
  /** `path.name`. */
  readonly port: string;
  readonly element: number;
}

/** A wire: the inputs that read it, and where it comes from. */
export interface Cut {
  readonly name: string;
  readonly readers: readonly Place[];
  readonly source: Place;
}

/** Something asked, resolved. */
export interface Resolution {
  /** For each excitation, the ports that it adds to. */
  readonly from: readonly (readonly Place[])[];
  readonly to: readonly Place[];
  readonly cuts: readonly Cut[];
  /** Ports put to a value for good. */
  readonly put: readonly { readonly place: Place; readonly value: number }[];
  /** States and memories that keep a value while the point of rest is looked for. */
  readonly kept: readonly { readonly place: Place; readonly value: number }[];
  /** Values that must come out as told at the point of rest. */
  readonly asked: readonly { readonly name: string; readonly place: Place; readonly value: number }[];
  /** Modes taken for granted, as the blocks say. */
  readonly assumed: Readonly<Record<string, string>>;
}

export function resolveRequest(compiled: Compiled, request: SheetRequest, findings: Finding[]): Resolution | undefined {
  const before = findings.length;
  const cuts = request.cut.flatMap((name) => cutOf(compiled, name, findings) ?? []);
  // What is wrong with a wire's name was said when it was to be cut.
  const cutHere = (name: string): Cut | undefined => cuts.find((cut) => cut.name === name);
  const from = request.from.map((name) =>
    request.cut.includes(name) ? (cutHere(name)?.readers ?? []) : entriesOf(compiled, name, findings),
  );
  const to = request.to.flatMap((name) =>
    request.cut.includes(name) ? (cutHere(name)?.source ?? []) : (placeOf(compiled, name, findings) ?? []),
  );
  const put: { place: Place; value: number }[] = [];
  const kept: { place: Place; value: number }[] = [];
  const asked: { name: string; place: Place; value: number }[] = [];
  const assumed: Record<string, string> = {};
  for (const { path, flat } of compiled.resolved.instances.values()) {
    const { analysedIn, modes } = flat.text;
    const value = analysedIn === undefined ? -1 : modes.indexOf(analysedIn);
    if (analysedIn === undefined || value < 0 || `${path}.mode` in request.hold) continue;
    assumed[`${path}.mode`] = analysedIn;
    put.push({ place: { port: `${path}.mode`, element: 0 }, value });
  }
  for (const [name, text] of Object.entries(request.hold)) {
    const free = openInputs(compiled, name, cuts);
    const readable = findReadable(compiled, name);
    if ('nearest' in readable && free === undefined) {
      findings.push(unknown(name, readable.nearest));
      continue;
    }
    const kind = 'nearest' in readable ? undefined : kindOf(compiled, readable);
    const value = heldValue(compiled, kind?.instance, text);
    if (value === undefined)
      findings.push({ id: 'bad_hold', level: 'error', at: { path: name }, facts: { value: String(text) } });
    else if (free !== undefined) for (const place of free) put.push({ place, value });
    else if ('nearest' in readable || kind === undefined) findings.push(unknown(name, []));
    else if (kind.is === 'setting')
      findings.push({ id: 'hold_setting', level: 'error', at: { path: name }, facts: {} });
    else if (kind.is === 'memory') kept.push({ place: placeIn(readable), value });
    else if (readable.signal.kind === 'real') asked.push({ name, place: placeIn(readable), value });
    else put.push({ place: placeIn(readable), value });
  }
  return findings.length > before ? undefined : { from, to, cuts, put, kept, asked, assumed };
}

function unknown(name: string, nearest: readonly string[]): Finding {
  return { id: 'unknown_port', level: 'error', at: { path: '' }, facts: { name, nearest: nearest.join(', ') } };
}

function placeIn({ port, element }: Readable): Place {
  return { port, element: element ?? 0 };
}

/** Where a value can be read; a vector must say which element. */
function placeOf(compiled: Compiled, name: string, findings: Finding[]): Place | undefined {
  const [fed] = compiled.flat.groupInputs.get(name) ?? [];
  const readable = findReadable(compiled, fed === undefined ? name : `${fed.path}.${fed.port}`);
  if ('nearest' in readable) {
    findings.push(unknown(name, readable.nearest));
    return undefined;
  }
  const { signal, element } = readable;
  if (element === undefined && signal.rows * signal.columns > 1) {
    findings.push({
      id: 'which_element',
      level: 'error',
      at: { path: name },
      facts: { size: String(signal.rows * signal.columns) },
    });
    return undefined;
  }
  return placeIn(readable);
}

interface InputName {
  readonly instance: Instance;
  readonly port: string;
  readonly element: number;
}

/** The block's input a name stands for, if it is one. */
function inputOf(compiled: Compiled, name: string): InputName | undefined {
  const parsed = parsePort(name);
  const instance = parsed?.block === undefined ? undefined : compiled.resolved.instances.get(parsed.block);
  if (parsed === undefined || instance === undefined) return undefined;
  const { text, inputs } = instance.flat;
  const isInput =
    text.inputs.some((input) => input.name === parsed.port) || inputs.some((input) => input.name === parsed.port);
  return isInput ? { instance, port: parsed.port, element: (parsed.element ?? 1) - 1 } : undefined;
}

/** The ports an excitation adds to: an input, all that a group's input feeds, or an output. */
function entriesOf(compiled: Compiled, name: string, findings: Finding[]): readonly Place[] {
  const input = inputOf(compiled, name);
  if (input !== undefined) return [{ port: `${input.instance.path}.${input.port}`, element: input.element }];
  const fed = compiled.flat.groupInputs.get(name);
  if (fed !== undefined) return fed.map(({ path, port }) => ({ port: `${path}.${port}`, element: 0 }));
  const place = placeOf(compiled, name, findings);
  if (place === undefined) return [];
  if (compiled.definitions.byKey.get(place.port)?.kind !== 'value') {
    findings.push({ id: 'not_excited', level: 'error', at: { path: name }, facts: {} });
    return [];
  }
  return [place];
}

function cutOf(compiled: Compiled, name: string, findings: Finding[]): Cut | undefined {
  const input = inputOf(compiled, name);
  const group = compiled.flat.groupInputs.get(name);
  if (input !== undefined || group !== undefined) {
    const readers =
      input === undefined
        ? (group ?? []).map(({ path, port }) => ({ port: `${path}.${port}`, element: 0 }))
        : [{ port: `${input.instance.path}.${input.port}`, element: input.element }];
    const [first] = input === undefined ? (group ?? []) : [{ path: input.instance.path, port: input.port }];
    const source =
      first === undefined ? undefined : compiled.resolved.instances.get(first.path)?.flat.wires.get(first.port);
    if (source !== undefined)
      return { name, readers, source: { port: `${source.path}.${source.port}`, element: (source.element ?? 1) - 1 } };
    findings.push({ id: 'cut_nothing', level: 'error', at: { path: name }, facts: {} });
    return undefined;
  }
  const source = placeOf(compiled, name, findings);
  if (source === undefined) return undefined;
  const readers: Place[] = [];
  for (const { path, flat } of compiled.resolved.instances.values())
    for (const [port, wire] of flat.wires)
      if (isSame(wire, source)) readers.push({ port: `${path}.${port}`, element: 0 });
  if (readers.length > 0) return { name, readers, source };
  findings.push({ id: 'cut_nothing', level: 'error', at: { path: name }, facts: {} });
  return undefined;
}

function isSame(wire: Source, { port, element }: Place): boolean {
  return `${wire.path}.${wire.port}` === port && (wire.element ?? 1) - 1 === element;
}

/** The inputs a name stands for that nothing feeds, or whose wire is cut: these take a value for good. */
function openInputs(compiled: Compiled, name: string, cuts: readonly Cut[]): readonly Place[] | undefined {
  const cut = cuts.find((each) => each.name === name);
  if (cut !== undefined) return cut.readers;
  const input = inputOf(compiled, name);
  if (input === undefined || input.instance.flat.wires.has(input.port)) return undefined;
  return [{ port: `${input.instance.path}.${input.port}`, element: input.element }];
}

function kindOf(
  compiled: Compiled,
  { port }: Readable,
): { readonly is: 'setting' | 'memory' | 'value'; readonly instance: Instance | undefined } {
  const dot = port.lastIndexOf('.');
  const instance = compiled.resolved.instances.get(port.slice(0, dot));
  const name = port.slice(dot + 1);
  const isMemory = instance?.flat.text.memories.some((memory) => memory.name === name) === true;
  return { is: instance?.settings.has(name) === true ? 'setting' : isMemory ? 'memory' : 'value', instance };
}

function heldValue(
  compiled: Compiled,
  instance: Instance | undefined,
  text: number | string | boolean,
): number | undefined {
  if (typeof text === 'boolean') return text ? 1 : 0;
  const mode = typeof text === 'string' ? (instance?.flat.text.modes.indexOf(text) ?? -1) : -1;
  if (mode >= 0) return mode;
  return compiled.resolved.values.seconds(text);
}
