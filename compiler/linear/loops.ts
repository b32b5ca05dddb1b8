/** The loops of a sheet, found by where what is got is compared with what is wanted: from the inner ones to the outer ones. */

import type { Expression } from '../language/syntax.ts';
import { walk } from '../language/walk.ts';
import type { Compiled } from '../stages/compiled.ts';
import type { Source } from '../stages/expand.ts';
import type { Instance } from '../stages/resolve.ts';
import { compareText } from '../text_order.ts';

export interface Loop {
  /** What it controls: the wire that is compared, as it is called farthest out on the sheet. */
  readonly name: string;
  /** The output after the comparison: cut there, the loop is open. */
  readonly cut: string;
  /** The wire it is compared with, where that comes from an outer loop. */
  readonly wanted: string | undefined;
  /** Names of the loops that lie inside it, nearest first. */
  readonly inside: readonly string[];
  /** Ticks between its runs. */
  readonly every: number;
}

/** A block that takes the difference of two wires. */
interface Comparison {
  readonly instance: Instance;
  readonly got: string;
  readonly other: string | undefined;
}

/**
 * A comparison is a block of the controller that subtracts: an open-ended input with both signs, or a difference of two inputs. It
 * makes a loop if what it makes comes back to it through the plant, and if one of the two sides comes from the sensors by no other
 * comparison: that side is what is got, the other what is wanted. Two sides from sensors are two readings of one thing. Without any
 * comparison, each actuator's command is where a loop is opened.
 */
export function findLoops(compiled: Compiled): readonly Loop[] {
  const graph = new Wiring(compiled);
  const found = [...compiled.resolved.instances.values()].flatMap((instance) => graph.comparison(instance) ?? []);
  if (found.length === 0) return graph.actuators().map((instance) => graph.plainLoop(instance));
  const depth = (comparison: Comparison): number => graph.within(comparison, found).length;
  return [...found]
    .sort((a, b) => depth(a) - depth(b) || compareText(a.instance.path, b.instance.path))
    .map((comparison): Loop => {
      const inside = graph.within(comparison, found);
      const wanted = comparison.other === undefined ? undefined : comparison.instance.flat.wires.get(comparison.other);
      return {
        name: graph.nameOf(comparison.instance.flat.wires.get(comparison.got)),
        cut: `${comparison.instance.path}.${graph.outputOf(comparison.instance)}`,
        wanted: wanted !== undefined && graph.isOnLoop(wanted.path) ? graph.nameOf(wanted) : undefined,
        inside: inside.map(({ instance, got }) => graph.nameOf(instance.flat.wires.get(got))),
        every: comparison.instance.every,
      };
    });
}

class Wiring {
  private readonly compiled: Compiled;
  private readonly readers = new Map<string, Set<string>>();
  private readonly comparing = new Map<string, readonly string[]>();
  private readonly names = new Map<string, string>();
  private readonly asked = new Map<Instance, Comparison | undefined>();

  constructor(compiled: Compiled) {
    this.compiled = compiled;
    const { instances } = compiled.resolved;
    for (const instance of instances.values()) {
      for (const source of instance.flat.wires.values())
        if (this.carries(source))
          this.readers.set(source.path, (this.readers.get(source.path) ?? new Set()).add(instance.path));
      const sides = instance.side === 'plant' ? [] : subtracted(instance);
      if (sides.length > 1) this.comparing.set(instance.path, sides);
    }
    for (const [name, { path, port }] of compiled.flat.groupOutputs) {
      const known = this.names.get(`${path}.${port}`);
      if (known === undefined || name.length < known.length) this.names.set(`${path}.${port}`, name);
    }
  }

  comparison(instance: Instance): Comparison | undefined {
    if (this.asked.has(instance)) return this.asked.get(instance);
    // While it is being asked about, it is none: a way that comes back to it says nothing new.
    this.asked.set(instance, undefined);
    const sides = this.comparing.get(instance.path) ?? [];
    if (sides.length < 2 || !this.isOnLoop(instance.path)) return undefined;
    const sensed = sides.filter((side) => this.isSensed(instance, side));
    const [got] = sensed;
    if (got === undefined || sensed.length > 1) return undefined;
    const found = { instance, got, other: sides.find((side) => side !== got) };
    this.asked.set(instance, found);
    return found;
  }

  isOnLoop(path: string): boolean {
    return this.reach(path).has(path);
  }

  /** Comparisons that this one's result comes to before it comes to an actuator, nearest first. */
  within({ instance }: Comparison, all: readonly Comparison[]): readonly Comparison[] {
    const ahead = this.reach(instance.path, (path) => this.isShore(path));
    return all
      .filter((other) => other.instance !== instance && ahead.has(other.instance.path))
      .sort((a, b) => this.within(b, all).length - this.within(a, all).length);
  }

  actuators(): readonly Instance[] {
    return [...this.compiled.resolved.instances.values()].filter(
      ({ path, flat }) => flat.text.channels.some(({ direction }) => direction === 'out') && this.isOnLoop(path),
    );
  }

  plainLoop({ path, flat, every }: Instance): Loop {
    const [first] = [...flat.wires].filter(([, source]) => this.carries(source));
    const port = first === undefined ? path : `${path}.${first[0]}`;
    return { name: this.nameOf(first?.[1]), cut: port, wanted: undefined, inside: [], every };
  }

  nameOf(source: Source | undefined): string {
    if (source === undefined) return '';
    const port = `${source.path}.${source.port}`;
    const element = source.element === undefined ? '' : `[${source.element}]`;
    return (this.names.get(port) ?? port) + element;
  }

  /** The output that goes on round the loop. */
  outputOf({ path }: Instance): string {
    for (const instance of this.compiled.resolved.instances.values())
      for (const source of instance.flat.wires.values())
        if (source.path === path && this.carries(source) && this.reach(instance.path).has(path)) return source.port;
    return 'y';
  }

  /** Whether a side comes from sensors without another comparison that makes a loop on the way. */
  private isSensed(instance: Instance, side: string): boolean {
    const source = instance.flat.wires.get(side);
    if (source === undefined || !this.carries(source)) return false;
    const seen = new Set<string>();
    const open = [source.path];
    for (let path = open.pop(); path !== undefined; path = open.pop()) {
      if (seen.has(path)) continue;
      seen.add(path);
      const at = this.compiled.resolved.instances.get(path);
      if (at === undefined) continue;
      if (at.flat.text.channels.some(({ direction }) => direction === 'in')) return this.isOnLoop(path);
      if (at !== instance && this.comparison(at) !== undefined) continue;
      for (const wire of at.flat.wires.values()) if (this.carries(wire)) open.push(wire.path);
    }
    return false;
  }

  private isShore(path: string): boolean {
    return (
      this.compiled.resolved.instances.get(path)?.flat.text.channels.some(({ direction }) => direction === 'out') ===
      true
    );
  }

  /** True and false carry no small change. */
  private carries({ path, port }: Source): boolean {
    const signal = this.compiled.resolved.instances.get(path)?.signals.get(port);
    return signal !== undefined && signal.kind !== 'bool' && port !== 'mode';
  }

  private reach(from: string, stops: (path: string) => boolean = () => false): ReadonlySet<string> {
    const found = new Set<string>();
    const open = [from];
    for (let path = open.pop(); path !== undefined; path = open.pop())
      for (const reader of this.readers.get(path) ?? []) {
        if (found.has(reader)) continue;
        found.add(reader);
        if (!stops(reader)) open.push(reader);
      }
    return found;
  }
}

/** Wired inputs that a block takes the difference of. */
function subtracted({ flat }: Instance): readonly string[] {
  const signs = new Set(flat.inputs.map(({ kind }) => kind));
  if (signs.has('+') && signs.has('-')) return flat.inputs.map(({ name }) => name);
  const isInput = (expression: Expression): expression is Expression & { readonly kind: 'name' } =>
    expression.kind === 'name' && flat.wires.has(expression.name);
  for (const { kind, value } of flat.text.equations) {
    if (kind !== 'plain' && kind !== 'next') continue;
    let sides: readonly string[] = [];
    walk(value, (part) => {
      if (part.kind === 'binary' && part.op === '-' && isInput(part.left) && isInput(part.right))
        sides = [part.left.name, part.right.name];
    });
    if (sides.length > 0) return sides;
  }
  return [];
}
