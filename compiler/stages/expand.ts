/** First stage: groups are drawn out until only blocks with equations are left, each with the sources of its inputs. */

import type { Finding, Repair } from '../findings.ts';
import type { BlockText } from '../language/syntax.ts';
import { type BlockOnSheet, entry, type Group, type Named, type SettingValue, type Sheet } from '../sheet/sheet.ts';
import { nearestFew } from './nearest.ts';
import type { Shelf } from './shelf.ts';

/** An output, or one element of it (from 1). */
export interface Source {
  readonly path: string;
  readonly port: string;
  readonly element: number | undefined;
}

/** One block with equations, wherever it was drawn. */
export interface FlatBlock {
  /** Dotted name: `balance.tilt`. */
  readonly path: string;
  readonly text: BlockText;
  /** The purpose word it stands under on the shelf; `mine` for the sheet's own. */
  readonly shelf: string;
  readonly set: ReadonlyMap<string, SettingValue>;
  /** Its own divider and phase, if it says any. */
  readonly every: number | undefined;
  readonly phase: number | undefined;
  /** Product of the dividers of the groups around it, and where their first tick falls; undefined outside any divider. */
  readonly around: { readonly every: number; readonly phase: number } | undefined;
  /** Ports that must be true for it to run, from the outermost group inwards. */
  readonly when: readonly Source[];
  readonly side: 'plant' | 'controller' | undefined;
  /** Named open-ended inputs with their kinds, in the code-point order of their names. */
  readonly inputs: readonly { readonly name: string; readonly kind: string }[];
  /** What feeds each input. */
  readonly wires: ReadonlyMap<string, Source>;
  /** Inputs that a wire names, even one whose source could not be found. */
  readonly wired: ReadonlySet<string>;
  /** Where its description stands in the sheet, as a path of keys: for repairs. */
  readonly keys: readonly string[];
}

export interface Flat {
  readonly blocks: ReadonlyMap<string, FlatBlock>;
  /** Outputs of group instances, and what they stand for. */
  readonly groupOutputs: ReadonlyMap<string, Source>;
  /** Inputs of group instances, and the blocks' inputs that each of them feeds. */
  readonly groupInputs: ReadonlyMap<string, readonly { readonly path: string; readonly port: string }[]>;
}

/** A sheet or a group while it is drawn out. */
interface Scope {
  /** Dotted path with a dot at its end; empty for the sheet. */
  readonly prefix: string;
  readonly blocks: Named<BlockOnSheet>;
  readonly wires: Named<string>;
  /** Path of keys to this scope in the sheet. */
  readonly keys: readonly string[];
  readonly group: Group | undefined;
  readonly outer: { readonly scope: Scope; readonly name: string } | undefined;
  readonly around: { readonly every: number; readonly phase: number } | undefined;
  /** The group instance's own condition, in the scope around it. */
  readonly when: { readonly text: string; readonly keys: readonly string[] } | undefined;
  /** Settings handed down by the group instances around, by dotted path from here. */
  readonly set: ReadonlyMap<string, SettingValue>;
  readonly inner: Map<string, Scope>;
  readonly ancestors: readonly string[];
}

/** A flat block while its wires are still being followed. */
interface Drawn extends FlatBlock {
  readonly when: Source[];
  readonly wires: Map<string, Source>;
  readonly wired: Set<string>;
  /** Every input, declared or of the sheet's naming. */
  readonly inputNames: ReadonlySet<string>;
}

/** Blocks and groups a sheet may come to; each depth of groups can double them. */
const PART_LIMIT = 20_000;
/** Equations and declarations that all its blocks may come to. */
const STATEMENT_LIMIT = 200_000;
/** Groups inside groups. */
const DEEPEST_GROUP = 64;

export function expand(sheet: Sheet, shelf: Shelf, findings: Finding[]): Flat {
  return new Expansion(sheet, shelf, findings).run();
}

/** Splits `imu.accel[2]` into its block, port and element; undefined if it does not read so. */
export function parsePort(
  text: string,
): { block: string | undefined; port: string; element: number | undefined } | undefined {
  const match = /^(?:([A-Za-z][A-Za-z0-9_.]*)\.)?([A-Za-z][A-Za-z0-9_]*)(?:\[(\d{1,6})\])?$/.exec(text);
  if (match === null) return undefined;
  return {
    block: match[1],
    port: match[2] ?? '',
    element: match[3] === undefined ? undefined : Number(match[3]),
  };
}

class Expansion {
  private readonly blocks = new Map<string, Drawn>();
  private readonly groupOutputs = new Map<string, Source>();
  private readonly groupInputs = new Map<string, { readonly path: string; readonly port: string }[]>();
  private readonly scopes: Scope[] = [];
  private readonly brokenTexts = new Set<string>();
  private readonly named = new Map<BlockText, ReadonlySet<string>>();
  private readonly inputs = new Map<BlockText, ReadonlySet<string>>();
  private statements = 0;
  private readonly sheet: Sheet;
  private readonly shelf: Shelf;
  private readonly findings: Finding[];

  constructor(sheet: Sheet, shelf: Shelf, findings: Finding[]) {
    this.sheet = sheet;
    this.shelf = shelf;
    this.findings = findings;
  }

  run(): Flat {
    const root: Scope = {
      prefix: '',
      blocks: this.sheet.blocks,
      wires: this.sheet.wires,
      keys: [],
      group: undefined,
      outer: undefined,
      around: undefined,
      when: undefined,
      set: new Map(),
      inner: new Map(),
      ancestors: [],
    };
    this.open(root);
    for (const scope of this.scopes) {
      const when = this.conditions(scope);
      for (const name of Object.keys(scope.blocks)) this.blocks.get(scope.prefix + name)?.when.push(...when);
      this.wire(scope);
    }
    return { blocks: this.blocks, groupOutputs: this.groupOutputs, groupInputs: this.groupInputs };
  }

  private report(
    id: string,
    level: Finding['level'],
    path: string,
    facts: Record<string, string>,
    repair?: Repair,
  ): void {
    this.findings.push({ id, level, at: { path }, facts, ...(repair === undefined ? {} : { repair }) });
  }

  private open(scope: Scope): void {
    this.scopes.push(scope);
    for (const name of Object.keys(scope.blocks).sort()) {
      const block = entry(scope.blocks, name);
      if (block === undefined) continue;
      if (this.isTooLarge()) return;
      const path = scope.prefix + name;
      const keys = [...scope.keys, 'blocks', name];
      const onShelf = this.shelf.find(block.is);
      if (onShelf === undefined) {
        const near = this.nearest(block.is, () => this.shelf.names());
        const repair = near[0] === undefined ? undefined : put(`Make it ${near[0]}`, [...keys, 'is'], near[0]);
        this.report('unknown_block', 'error', path, { name: block.is, nearest: near.join(', ') }, repair);
      } else if (onShelf.group !== undefined) this.openGroup(scope, name, block, onShelf.group, keys);
      else if (onShelf.text === undefined) this.reportBrokenText(block.is);
      else this.addBlock(scope, name, block, onShelf.text, onShelf.shelf, keys);
    }
  }

  /** Whether there is more than may be drawn out; says so once. */
  private isTooLarge(): boolean {
    const tooManyParts = this.blocks.size + this.scopes.length > PART_LIMIT;
    if (!tooManyParts && this.statements <= STATEMENT_LIMIT) return false;
    const facts = tooManyParts
      ? { limit: String(PART_LIMIT), what: 'blocks and groups' }
      : { limit: String(STATEMENT_LIMIT), what: 'equations and declarations' };
    if (!this.findings.some((finding) => finding.id === 'too_many_blocks'))
      this.report('too_many_blocks', 'error', '', facts);
    return true;
  }

  private nearest(wanted: string, known: () => readonly string[]): string[] {
    return nearestFew(wanted, known, this.findings);
  }

  private reportBrokenText(name: string): void {
    if (this.brokenTexts.has(name)) return;
    this.brokenTexts.add(name);
    this.findings.push(...this.shelf.findings(name));
  }

  private around(scope: Scope, block: BlockOnSheet): Scope['around'] {
    if (block.every === undefined && block.phase === undefined) return scope.around;
    const outer = scope.around ?? { every: 1, phase: 0 };
    return { every: outer.every * (block.every ?? 1), phase: outer.phase + outer.every * (block.phase ?? 0) };
  }

  private openGroup(scope: Scope, name: string, block: BlockOnSheet, group: Group, keys: readonly string[]): void {
    const path = scope.prefix + name;
    if (scope.ancestors.includes(block.is)) {
      this.report('group_in_itself', 'error', path, { name: block.is });
      return;
    }
    if (scope.ancestors.length >= DEEPEST_GROUP) {
      this.report('groups_too_deep', 'error', path, { limit: String(DEEPEST_GROUP) });
      return;
    }
    const set = new Map<string, SettingValue>();
    for (const [key, value] of Object.entries(block.set ?? {})) set.set(key, value);
    for (const [key, value] of scope.set) if (key.startsWith(`${name}.`)) set.set(key.slice(name.length + 1), value);
    for (const key of set.keys()) {
      const first = key.split('.')[0] ?? '';
      if (!key.includes('.') || entry(group.blocks, first) === undefined)
        this.report('unknown_setting', 'error', `${path}.${key}`, {
          name: key,
          block: block.is,
          nearest: this.nearest(first, () => Object.keys(group.blocks)).join(', '),
        });
    }
    for (const port of Object.keys(group.ports))
      if (entry(group.blocks, port) !== undefined)
        this.report('name_clash', 'error', `${path}.${port}`, { name: port });
    const inner: Scope = {
      prefix: `${path}.`,
      blocks: group.blocks,
      wires: group.wires,
      keys: ['shelf', block.is],
      group,
      outer: { scope, name },
      around: this.around(scope, block),
      when: block.when === undefined ? undefined : { text: block.when, keys: [...keys, 'when'] },
      set,
      inner: new Map(),
      ancestors: [...scope.ancestors, block.is],
    };
    scope.inner.set(name, inner);
    this.open(inner);
  }

  private addBlock(
    scope: Scope,
    name: string,
    block: BlockOnSheet,
    text: BlockText,
    shelf: string,
    keys: readonly string[],
  ): void {
    const path = scope.prefix + name;
    const set = new Map<string, SettingValue>(Object.entries(block.set ?? {}));
    for (const [key, value] of scope.set) if (key.startsWith(`${name}.`)) set.set(key.slice(name.length + 1), value);
    const known = [...text.settings, ...text.builds].map((setting) => setting.name);
    for (const key of [...set.keys()])
      if (!known.includes(key)) {
        set.delete(key);
        const near = this.nearest(key, () => known);
        const value = entry(block.set ?? {}, key);
        const repair =
          near[0] === undefined || value === undefined
            ? undefined
            : {
                label: `Rename it ${near[0]}`,
                edits: [{ path: [...keys, 'set', key] }, { path: [...keys, 'set', near[0]], value }],
              };
        this.report(
          'unknown_setting',
          'error',
          `${path}.${key}`,
          { name: key, block: block.is, nearest: near.join(', ') },
          repair,
        );
      }
    const inputs: { name: string; kind: string }[] = [];
    const own = this.ownNames(text);
    this.statements += own.size;
    for (const [input, kind] of Object.entries(block.inputs ?? {})) {
      const list = text.openInputs.find((open) => open.kinds.length === 0 || open.kinds.includes(kind));
      if (list === undefined) {
        const kinds = text.openInputs.flatMap((open) => open.kinds);
        this.report('unknown_input_kind', 'error', `${path}.${input}`, {
          kind,
          kinds: kinds.join(', '),
          block: block.is,
        });
      } else if (own.has(input)) this.report('name_clash', 'error', `${path}.${input}`, { name: input });
      else inputs.push({ name: input, kind });
    }
    inputs.sort((a, b) => (a.name < b.name ? -1 : 1));
    this.blocks.set(path, {
      path,
      text,
      shelf,
      set,
      every: block.every,
      phase: block.phase,
      around: scope.around,
      when: [],
      side: block.side,
      inputs,
      wires: new Map(),
      wired: new Set(),
      inputNames:
        inputs.length === 0 ? this.inputNames(text) : new Set([...text.inputs, ...inputs].map(({ name }) => name)),
      keys,
    });
  }

  /** Every name a block gives to something of its own. */
  private ownNames(text: BlockText): ReadonlySet<string> {
    const known = this.named.get(text);
    if (known !== undefined) return known;
    const declared = [
      ...text.inputs,
      ...text.openInputs,
      ...text.outputs,
      ...text.settings,
      ...text.builds,
      ...text.memories,
      ...text.channels,
      ...text.equations,
    ].map(({ name }) => name);
    const names = new Set([...declared, ...text.modes]);
    this.named.set(text, names);
    return names;
  }

  /** The inputs a block declares. */
  private inputNames(text: BlockText): ReadonlySet<string> {
    let names = this.inputs.get(text);
    if (names === undefined) {
      names = new Set(text.inputs.map(({ name }) => name));
      this.inputs.set(text, names);
    }
    return names;
  }

  /** What must be true for the blocks of a scope to run, from the outermost group inwards. */
  private conditions(scope: Scope): Source[] {
    if (scope.outer === undefined) return [];
    const around = this.conditions(scope.outer.scope);
    if (scope.when === undefined) return around;
    const source = this.resolve(scope.outer.scope, scope.when.text);
    if (source === undefined) {
      this.reportUnknownSource(scope.outer.scope, scope.when.text, scope.prefix.slice(0, -1), scope.when.keys);
      return around;
    }
    return [...around, source];
  }

  /** Follows every wire of a scope that feeds a block with equations. */
  private wire(scope: Scope): void {
    for (const key of Object.keys(scope.wires).sort()) {
      const from = entry(scope.wires, key) ?? '';
      const target = parsePort(key);
      const wireKeys = [...scope.keys, 'wires', key];
      const place = scope.prefix + key;
      if (target === undefined || target.element !== undefined) {
        this.report('unreadable_wire', 'error', place, { wire: key });
        continue;
      }
      if (target.block === undefined) {
        this.wireGroupOutput(scope, target.port, from, place, wireKeys);
        continue;
      }
      const source = this.resolve(scope, from);
      if (source === undefined) this.reportUnknownSource(scope, from, place, wireKeys);
      const inner = scope.inner.get(target.block);
      if (inner?.group !== undefined) {
        const port = entry(inner.group.ports, target.port);
        if (port === undefined || !('in' in port))
          this.reportUnknownInput(place, target, portNames(inner.group, 'in'), wireKeys, from);
        continue;
      }
      const block = this.blocks.get(scope.prefix + target.block);
      if (block === undefined) {
        if (entry(scope.blocks, target.block) === undefined) {
          const near = this.nearest(target.block, () => Object.keys(scope.blocks));
          this.report(
            'unknown_place',
            'error',
            place,
            { name: target.block, nearest: near.join(', ') },
            {
              label: 'Remove the wire',
              edits: [{ path: wireKeys }],
            },
          );
        }
        continue;
      }
      if (!block.inputNames.has(target.port))
        this.reportUnknownInput(place, target, [...block.inputNames], wireKeys, from);
      else {
        block.wired.add(target.port);
        if (source !== undefined) {
          block.wires.set(target.port, source);
          this.noteGroupInputs(scope, from, { path: block.path, port: target.port });
        }
      }
    }
  }

  /** A block fed by an input of the group around it, and by those of the groups around that, or by what a group passes through. */
  private noteGroupInputs(scope: Scope, from: string, fed: { readonly path: string; readonly port: string }): void {
    const port = parsePort(from);
    if (port === undefined) return;
    if (port.block !== undefined) {
      const inner = scope.inner.get(port.block);
      const through = inner === undefined ? undefined : entry(inner.wires, port.port);
      if (inner !== undefined && through !== undefined) this.noteGroupInputs(inner, through, fed);
      return;
    }
    if (scope.outer === undefined) return;
    const name = `${scope.prefix}${port.port}`;
    const all = this.groupInputs.get(name);
    if (all === undefined) this.groupInputs.set(name, [fed]);
    else all.push(fed);
    const outer = entry(scope.outer.scope.wires, `${scope.outer.name}.${port.port}`);
    if (outer !== undefined) this.noteGroupInputs(scope.outer.scope, outer, fed);
  }

  private reportUnknownInput(
    place: string,
    target: { block: string | undefined; port: string },
    known: readonly string[],
    wireKeys: readonly string[],
    from: string,
  ): void {
    const near = this.nearest(target.port, () => known);
    const repair =
      near[0] === undefined
        ? { label: 'Remove the wire', edits: [{ path: wireKeys }] }
        : {
            label: `Take it to ${near[0]}`,
            edits: [
              { path: wireKeys },
              { path: [...wireKeys.slice(0, -1), `${target.block}.${near[0]}`], value: from },
            ],
          };
    this.report(
      'unknown_input',
      'error',
      place,
      { name: target.port, block: target.block ?? '', nearest: near.join(', ') },
      repair,
    );
  }

  private wireGroupOutput(scope: Scope, port: string, from: string, place: string, wireKeys: readonly string[]): void {
    const declared = scope.group === undefined ? undefined : entry(scope.group.ports, port);
    if (declared === undefined || !('out' in declared)) {
      this.report(
        'unknown_place',
        'error',
        place,
        { name: port, nearest: '' },
        { label: 'Remove the wire', edits: [{ path: wireKeys }] },
      );
      return;
    }
    const source = this.resolve(scope, from);
    if (source === undefined) this.reportUnknownSource(scope, from, place, wireKeys);
    else this.groupOutputs.set(scope.prefix.slice(0, -1) + (scope.prefix === '' ? port : `.${port}`), source);
  }

  private reportUnknownSource(scope: Scope, from: string, place: string, keys: readonly string[]): void {
    if (this.isUnfinished(scope, from)) return;
    const near = this.nearest(from, () => this.outputsIn(scope));
    const repair =
      near[0] === undefined
        ? { label: 'Remove the wire', edits: [{ path: keys }] }
        : put(`Take it from ${near[0]}`, keys, near[0]);
    this.report('unknown_output', 'error', place, { name: from, nearest: near.join(', ') }, repair);
  }

  /** A source that is named rightly but feeds from something else that was already reported, or from a broken block. */
  private isUnfinished(scope: Scope, from: string): boolean {
    const port = parsePort(from);
    if (port === undefined) return false;
    if (port.block === undefined) {
      const declared = scope.group === undefined ? undefined : entry(scope.group.ports, port.port);
      return declared !== undefined && 'in' in declared;
    }
    const inner = scope.inner.get(port.block);
    if (inner?.group !== undefined) {
      const declared = entry(inner.group.ports, port.port);
      return declared !== undefined && 'out' in declared;
    }
    return entry(scope.blocks, port.block) !== undefined && !this.blocks.has(scope.prefix + port.block);
  }

  private outputsIn(scope: Scope): string[] {
    const names: string[] = [];
    for (const name of Object.keys(scope.blocks)) {
      const inner = scope.inner.get(name);
      const block = this.blocks.get(scope.prefix + name);
      if (inner?.group !== undefined) for (const port of portNames(inner.group, 'out')) names.push(`${name}.${port}`);
      else if (block !== undefined) for (const port of outputNames(block)) names.push(`${name}.${port}`);
    }
    if (scope.group !== undefined) names.push(...portNames(scope.group, 'in'));
    return names.sort();
  }

  /** The block output that a wire's source stands for; undefined if it leads nowhere. */
  private resolve(scope: Scope, from: string, depth = 0): Source | undefined {
    const port = parsePort(from);
    if (port === undefined || depth > 1000) return undefined;
    if (port.block === undefined) {
      const outer = scope.outer;
      const declared = scope.group === undefined ? undefined : entry(scope.group.ports, port.port);
      if (outer === undefined || declared === undefined || !('in' in declared)) return undefined;
      const wire = entry(outer.scope.wires, `${outer.name}.${port.port}`);
      return wire === undefined ? undefined : withElement(this.resolve(outer.scope, wire, depth + 1), port.element);
    }
    const inner = scope.inner.get(port.block);
    if (inner !== undefined) {
      const wire = entry(inner.wires, port.port);
      return wire === undefined ? undefined : withElement(this.resolve(inner, wire, depth + 1), port.element);
    }
    const block = this.blocks.get(scope.prefix + port.block);
    if (block === undefined || !outputNames(block).includes(port.port)) return undefined;
    return { path: block.path, port: port.port, element: port.element };
  }
}

function withElement(source: Source | undefined, element: number | undefined): Source | undefined {
  return source === undefined || element === undefined ? source : { ...source, element };
}

function portNames(group: Group, direction: 'in' | 'out'): string[] {
  return Object.entries(group.ports)
    .filter(([, port]) => direction in port)
    .map(([name]) => name);
}

/** Every output of a block: those declared, its mode, and those named by a build setting. */
export function outputNames(block: FlatBlock): string[] {
  const names = block.text.outputs.map((output) => output.name);
  if (block.text.modes.length > 0 && !names.includes('mode')) names.push('mode');
  for (const open of block.text.openOutputs) {
    const words = block.set.get(open.name);
    if (Array.isArray(words)) for (const word of words) if (typeof word === 'string') names.push(word);
  }
  return names;
}

function put(label: string, path: readonly string[], value: unknown): Repair {
  return { label, edits: [{ path, value }] };
}
