/**
 * Numbers known on the host before the program runs: constants, settings, lets and what is computed from them, kept as
 * a graph at `f64` so that adjusting a setting recomputes exactly what depends on it.
 */

/** How a node is computed from its arguments; a bundle gives several numbers at once. */
type Compute = (args: readonly (number | readonly number[])[]) => number | readonly number[];

/** One number known on the host. Equal nodes are the same object. */
export interface HostNode {
  /** Order of making, unique within its graph. */
  readonly id: number;
  /** Its value with the sheet's own settings; not rounded. */
  readonly value: number;
  /** Whether it depends on a setting that can be adjusted while running. */
  readonly adjustable: boolean;
}

interface Entry {
  readonly node: HostNode;
  readonly bundle: readonly number[] | undefined;
  readonly args: readonly number[];
  readonly compute: Compute | undefined;
  /** Key of the setting element this is, such as `outer.gain` or `filter.num[2]`. */
  readonly setting: string | undefined;
  /** What it was interned under: its operation and the ids of its arguments. */
  readonly key: string;
}

const SIGNS: Readonly<Record<string, string>> = { add: '+', sub: '-', mul: '*', div: '/', lt: '<', le: '<=', eq: '==' };

function bracketed(text: string): string {
  return text.includes(' ') && !text.endsWith(')') ? `(${text})` : text;
}

/** Makes and keeps the nodes of one compilation. */
export class HostGraph {
  private readonly entries: Entry[] = [];
  private readonly known = new Map<string, number>();

  private intern(
    key: string,
    args: readonly number[],
    compute: Compute | undefined,
    result: number | readonly number[],
    setting?: string,
  ): HostNode {
    const found = this.known.get(key);
    if (found !== undefined) return this.entry(found).node;
    const id = this.entries.length;
    const adjustable = setting !== undefined || args.some((arg) => this.entry(arg).node.adjustable);
    const bundle = typeof result === 'number' ? undefined : result;
    const node: HostNode = { id, value: typeof result === 'number' ? result : Number.NaN, adjustable };
    this.entries.push({ node, bundle, args, compute, setting, key });
    this.known.set(key, id);
    return node;
  }

  private entry(id: number): Entry {
    const found = this.entries[id];
    if (found === undefined) throw new Error(`no host node ${id}`);
    return found;
  }

  constant(value: number): HostNode {
    return this.intern(`#${Object.is(value, -0) ? '-0' : value}`, [], undefined, value);
  }

  /** A setting's number (or one element of it) by its key. */
  setting(key: string, value: number): HostNode {
    return this.intern(`=${key}`, [], undefined, value, key);
  }

  /** The same operation on the same nodes is the same node. */
  apply(name: string, args: readonly HostNode[], compute: (...values: number[]) => number): HostNode {
    const result = compute(...args.map((arg) => arg.value));
    const ids = args.map((arg) => arg.id);
    return this.intern(`${name}(${ids.join()})`, ids, (values) => compute(...(values as number[])), result);
  }

  /** Several numbers computed together from several. */
  bundle(
    name: string,
    args: readonly HostNode[],
    compute: (values: readonly number[]) => readonly number[],
  ): HostNode[] {
    const values = compute(args.map((arg) => arg.value));
    const ids = args.map((arg) => arg.id);
    const whole = this.intern(`${name}[${ids.join()}]`, ids, (all) => compute(all as number[]), values);
    return values.map((value, i) =>
      this.intern(`${whole.id}.${i}`, [whole.id], ([all]) => (all as readonly number[])[i] ?? Number.NaN, value),
    );
  }

  /** Values of the asked nodes when settings have these values instead of the sheet's. */
  recompute(nodes: readonly HostNode[], changed: ReadonlyMap<string, number>): number[] {
    const made = new Map<number, number | readonly number[]>();
    const value = (id: number): number | readonly number[] => {
      const { bundle, node } = this.entry(id);
      return made.get(id) ?? bundle ?? node.value;
    };
    for (const id of this.behind(nodes)) {
      const { node, setting, compute, args } = this.entry(id);
      if (setting !== undefined) made.set(id, changed.get(setting) ?? node.value);
      else if (compute !== undefined && node.adjustable) made.set(id, compute(args.map(value)));
    }
    return nodes.map((node) => value(node.id) as number);
  }

  /** The nodes and all that they are computed from that can be adjusted, each after what it is computed from. */
  private behind(nodes: readonly HostNode[]): readonly number[] {
    const found = new Set<number>();
    const waiting = nodes.map((node) => node.id);
    for (let id = waiting.pop(); id !== undefined; id = waiting.pop()) {
      const { node, args } = this.entry(id);
      if (!node.adjustable || found.has(id)) continue;
      found.add(id);
      for (const arg of args) waiting.push(arg);
    }
    return [...found].sort((a, b) => a - b);
  }

  /** Keys of the settings that these nodes are computed from. */
  settingsBehind(nodes: readonly HostNode[]): string[] {
    return this.behind(nodes).flatMap((id) => this.entry(id).setting ?? []);
  }

  /** How a node is computed, as a reader would write it: `1 - keep`; cut short when it grows long. */
  describe(node: HostNode, depth = 4): string {
    const entry = this.entry(node.id);
    const key = entry.key;
    if (entry.setting !== undefined) return entry.setting.slice(entry.setting.lastIndexOf('.') + 1);
    if (entry.compute === undefined) return String(entry.node.value);
    if (depth === 0) return '…';
    const args = entry.args.map((id) => this.describe(this.entry(id).node, depth - 1));
    const name = key.slice(0, key.search(/[:([.]/));
    const sign = SIGNS[name];
    const [a = '', b = ''] = args;
    if (sign !== undefined && args.length === 2) return `${bracketed(a)} ${sign} ${bracketed(b)}`;
    return name === 'neg' ? `-${bracketed(a)}` : `${name}(${args.join(', ')})`;
  }
}
