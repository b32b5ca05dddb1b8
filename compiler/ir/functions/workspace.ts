/** Working storage of the elementary functions: slots handed out by name, once a program. */

import type { Slot, Type } from '../program.ts';

/** Hands out `scratch` slots of one scalar each, numbered on from `firstSlot`. */
export class Workspace {
  readonly slots: Slot[] = [];
  private readonly firstSlot: number;

  constructor(firstSlot: number) {
    this.firstSlot = firstSlot;
  }

  /** The id of the slot of that name, made when first asked for; `note` goes into the comment in the C. */
  slot(name: string, type: Type, note: string): number {
    const found = this.slots.find((slot) => slot.name === name);
    if (found !== undefined) return found.id;
    const id = this.firstSlot + this.slots.length;
    this.slots.push({ id, name, kind: 'scratch', type, length: 1, start: [0], block: '', note });
    return id;
  }
}
