/** Numbers of a self-check as few bytes: columns as steps from tick to tick, read back by a few lines of C. */

import type { Type } from '../ir/program.ts';
import { patternOf } from './reference.ts';

/** Where one stream of words begins, and where the words stand that it counts through, if it does. */
export interface Stream {
  readonly at: number;
  readonly words: number | undefined;
}

/** Collects bytes; `bytes` is all that the C has to keep. */
export class Store {
  readonly bytes: number[] = [];

  /**
   * A column of numbers: a stream of its 32-bit patterns, two streams for an f64 (lowest word first). Each tick steps from
   * the word before it; a number that stays is a zero with how often it stays. Where few words come often, as with a
   * quantised reading, steps lead through the sorted list of them.
   */
  add(type: Type, numbers: Float64Array): Stream[] {
    const words = [new Uint32Array(numbers.length), new Uint32Array(numbers.length)] as const;
    for (const [i, number] of numbers.entries()) {
      const [low = 0, high = 0] = patternOf(type, number);
      words[0][i] = low;
      words[1][i] = high;
    }
    const streams = type === 'f64' ? words : [words[0]];
    return streams.map((stream) => this.stream(stream, type === 'f32' || stream === words[1]));
  }

  /** 32-bit words one after the other; gives where they begin. */
  addWords(words: Iterable<number>): number {
    const at = this.bytes.length;
    for (const word of words) for (let shift = 0; shift < 32; shift += 8) this.bytes.push((word >>> shift) & 0xff);
    return at;
  }

  private stream(words: Uint32Array, real: boolean): Stream {
    const direct = steps(words);
    const list = [...new Set(words)].sort(real ? (a, b) => order(a) - order(b) : (a, b) => a - b);
    const places = new Map(list.map((word, place) => [word, place]));
    const counted = steps(words.map((word) => places.get(word) ?? 0));
    const listed = counted.length + 4 * list.length < direct.length;
    const at = this.bytes.length;
    for (const byte of listed ? counted : direct) this.bytes.push(byte);
    return { at, words: listed ? this.addWords(list) : undefined };
  }
}

/** Patterns of real numbers in the order of the numbers. */
function order(pattern: number): number {
  return pattern >= 0x80000000 ? -(pattern - 0x80000000) - 1 : pattern;
}

function steps(words: Uint32Array): number[] {
  const bytes: number[] = [];
  const number = (value: number): void => {
    let rest = value;
    for (; rest > 0x7f; rest >>>= 7) bytes.push((rest & 0x7f) | 0x80);
    bytes.push(rest);
  };
  let last = 0;
  for (let i = 0; i < words.length; i++) {
    const step = ((words[i] ?? 0) - last) | 0;
    last = words[i] ?? 0;
    number(((step << 1) ^ (step >> 31)) >>> 0);
    if (step !== 0) continue;
    let more = 0;
    while (i + 1 < words.length && words[i + 1] === last) {
      more++;
      i++;
    }
    number(more);
  }
  return bytes;
}
