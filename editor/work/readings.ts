/** The values at one (run, tick), outside React: what is on screen registers, and is written to as numbers come. */

import type { Watched } from './bench_messages.ts';
import { type Shown, shownAs, valueWords, withUnit } from './value_words.ts';

/** What there is to write: nothing known of a name reads `not recorded`. */
export interface Value {
  readonly facts: Watched | undefined;
  /** Undefined before the first tick. */
  readonly numbers: Float64Array | undefined;
  readonly tick: number;
}

export type Sink = (value: Value) => void;

export interface Readings {
  /** Hears of every new value of a name until the answer is called. `brisk`: at the pace of the screen, not that of text. */
  register(name: string, sink: Sink, brisk?: boolean): () => void;
  /** What is known of a name now. */
  now(name: string): Value;
}

/** The other end: what the bench's thread told. */
export interface Told {
  watched(number: number, facts: readonly (Watched | undefined)[]): void;
  values(number: number, tick: number, values: Float64Array | undefined): void;
  /** There is no run any more. */
  nothing(): void;
}

/** Milliseconds between two changes of a text. */
const TEXT_PACE = 100;

interface Slot {
  readonly sinks: Map<Sink, boolean>;
  facts: Watched | undefined;
  numbers: Float64Array | undefined;
}

/** Readings that ask for the names in use by `watch`; names asked for together go in one message. */
export function createReadings(watch: (number: number, names: readonly string[]) => void): Readings & Told {
  const slots = new Map<string, Slot>();
  let asked: readonly string[] = [];
  let number = 0;
  let tick = -1;
  let asking = false;
  let textAt = 0;
  let texting = false;

  const ask = () => {
    if (asking) return;
    asking = true;
    queueMicrotask(() => {
      asking = false;
      for (const [name, slot] of slots) if (slot.sinks.size === 0) slots.delete(name);
      asked = [...slots.keys()];
      number += 1;
      watch(number, asked);
    });
  };
  const read = (slot: Slot): Value => ({ facts: slot.facts, numbers: slot.numbers, tick });
  const write = (brisk: boolean) => {
    for (const slot of slots.values())
      for (const [sink, isBrisk] of slot.sinks) if (isBrisk === brisk) sink(read(slot));
  };
  const writeTexts = () => {
    texting = false;
    textAt = performance.now();
    write(false);
  };
  const changed = () => {
    write(true);
    if (texting) return;
    texting = true;
    setTimeout(writeTexts, Math.max(0, textAt + TEXT_PACE - performance.now()));
  };

  return {
    register(name, sink, brisk = false) {
      let slot = slots.get(name);
      if (slot === undefined) {
        slot = { sinks: new Map(), facts: undefined, numbers: undefined };
        slots.set(name, slot);
        ask();
      }
      slot.sinks.set(sink, brisk);
      sink(read(slot));
      return () => {
        slot.sinks.delete(sink);
        if (slot.sinks.size === 0) ask();
      };
    },
    now(name) {
      const slot = slots.get(name);
      return slot === undefined ? { facts: undefined, numbers: undefined, tick } : read(slot);
    },
    watched(which, facts) {
      if (which !== number) return;
      for (const [i, name] of asked.entries()) {
        const slot = slots.get(name);
        if (slot !== undefined) slot.facts = facts[i];
      }
    },
    values(which, at, values) {
      if (which !== number) return;
      tick = at;
      let from = 0;
      for (const name of asked) {
        const slot = slots.get(name);
        if (slot === undefined) continue;
        const count = slot.facts?.count ?? 0;
        slot.numbers = values === undefined || count === 0 ? undefined : values.subarray(from, from + count);
        from += count;
      }
      changed();
    },
    nothing() {
      for (const slot of slots.values()) {
        slot.facts = undefined;
        slot.numbers = undefined;
      }
      tick = -1;
      changed();
    },
  };
}

/** A value in words: its digits, and the unit apart. */
export function wordsOf({ facts, numbers }: Value, chosen: string | undefined): { text: string; unit: string } {
  if (facts === undefined) return { text: 'not recorded', unit: '' };
  if (numbers === undefined) return { text: '–', unit: '' };
  const shown: Shown = shownAs(facts, chosen);
  const words = [...numbers].map((number) => valueWords(facts, number, shown));
  return { text: words.length === 1 ? (words[0] ?? '') : `[${words.join(', ')}]`, unit: shown.unit };
}

/** The same in one text. */
export function sentenceOf(value: Value, chosen: string | undefined): string {
  const { text, unit } = wordsOf(value, chosen);
  return withUnit(text, unit);
}
