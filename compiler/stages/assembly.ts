/** The program while it is put together: its slots, its setting numbers and the functions it turns out to need. */

import { elementaryFunctions } from '../ir/functions/elementary.ts';
import type { Func, Layers, Program, Real, Slot, SlotKind, Type } from '../ir/program.ts';
import type { HostGraph, HostNode } from '../language/host_value.ts';
import { Allowance } from './allowance.ts';

export type ScalarKind = 'real' | 'int' | 'bool';

/** A setting slot and the host number it holds. */
export interface SettingSlot {
  readonly slot: number;
  readonly node: HostNode;
}

export class Assembly {
  readonly graph: HostGraph;
  readonly allowance = new Allowance();
  private readonly slots: Slot[] = [];
  private readonly bySlotName = new Map<string, number>();
  private readonly settingByNode = new Map<string, number>();
  private readonly nodeNames = new Map<number, string>();
  private readonly anonymous = new Map<string, number>();
  private readonly elementaryNames = new Set<string>();
  private readonly own: Func[] = [];
  readonly settings: SettingSlot[] = [];
  /** Host numbers that lengths were made from. */
  readonly lengths: HostNode[] = [];
  /** Set where the schedule is layered. */
  layers: Layers | undefined;

  constructor(graph: HostGraph) {
    this.graph = graph;
  }

  /** Makes a slot; the same name twice is our own mistake. */
  slot(
    name: string,
    kind: SlotKind,
    type: Type,
    options: { length?: number; start?: readonly number[]; block?: string; head?: number; note?: string } = {},
  ): number {
    const length = options.length ?? 1;
    const start = options.start ?? new Array<number>(length).fill(0);
    if (this.bySlotName.has(name)) throw new Error(`two slots named ${name}`);
    const id = this.slots.length;
    this.slots.push({
      id,
      name,
      kind,
      type,
      length,
      start: start.map((value) => rounded(type, value)),
      block: options.block ?? '',
      ...(options.head === undefined ? {} : { head: options.head }),
      ...(options.note === undefined ? {} : { note: options.note }),
    });
    this.bySlotName.set(name, id);
    return id;
  }

  find(name: string): number | undefined {
    return this.bySlotName.get(name);
  }

  slotAt(id: number): Slot {
    const slot = this.slots[id];
    if (slot === undefined) throw new Error(`no slot ${id}`);
    return slot;
  }

  get slotCount(): number {
    return this.slots.length;
  }

  /** What the slot for a host number is called, if one is ever needed. */
  nameNode(node: HostNode, name: string): void {
    if (node.adjustable && !this.nodeNames.has(node.id)) this.nodeNames.set(node.id, name);
  }

  /** The setting slot that holds an adjustable host number; one a number and type. */
  settingSlot(node: HostNode, type: Type, block: string): number {
    const key = `${node.id}:${type}`;
    const known = this.settingByNode.get(key);
    if (known !== undefined) return known;
    let name = this.nodeNames.get(node.id);
    if (name === undefined || this.bySlotName.has(name)) {
      const count = (this.anonymous.get(block) ?? 0) + 1;
      this.anonymous.set(block, count);
      name = `${block}.k${count}`;
      while (this.bySlotName.has(name)) name += '_';
    }
    const note = this.nodeNames.has(node.id) ? '' : this.graph.describe(node);
    const slot = this.slot(name, 'setting', type, { start: [node.value], block, ...(note === '' ? {} : { note }) });
    this.settingByNode.set(key, slot);
    this.settings.push({ slot, node });
    return slot;
  }

  /** Notes that the program calls an elementary function; gives its full name. */
  elementary(name: string, real: Real): string {
    const full = `${name}_${real}`;
    this.elementaryNames.add(full);
    return full;
  }

  add(func: Func): void {
    this.own.push(func);
  }

  /** The program made of everything so far, with the elementary functions it calls. */
  finish(name: string, real: Real): Program {
    const linked = elementaryFunctions([...this.elementaryNames].sort(), this.slots.length);
    return {
      name,
      real,
      slots: [...this.slots, ...linked.slots],
      functions: [...linked.functions, ...this.own],
      ...(this.layers === undefined ? {} : { layers: this.layers }),
    };
  }
}

export function typeOf(kind: ScalarKind, real: Real): Type {
  return kind === 'real' ? real : kind === 'int' ? 'i32' : 'bool';
}

function rounded(type: Type, value: number): number {
  return type === 'f32' ? Math.fround(value) : value;
}

/** FNV-1a over UTF-16 code units, as a signed 32-bit number: names a place in the noise hash. */
export function hashText(text: string): number {
  let hash = 0x811c9dc5;
  for (let i = 0; i < text.length; i++) hash = Math.imul(hash ^ text.charCodeAt(i), 0x01000193);
  return hash | 0;
}
