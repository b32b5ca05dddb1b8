/** Repeatable random numbers: a hash of (run seed, block seed, path, tick) to two words, and those to a normal number. */

import { Builder } from '../build.ts';
import type { Func, Real, Value } from '../program.ts';
import { arithmetic } from './arithmetic.ts';
import { reduced } from './circle.ts';
import { pieces } from './coefficients.ts';
import type { Workspace } from './workspace.ts';

/** Rotations of Threefry-2x32, over and over. */
const rotations = [13, 15, 26, 6, 17, 29, 16, 24] as const;
const parity = 0x1bd11bda;

/** Where the two words are left. */
function words(workspace: Workspace) {
  return {
    first: workspace.slot('random_first', 'i32', 'random bits'),
    second: workspace.slot('random_second', 'i32', 'random bits'),
  };
}

/**
 * Threefry-2x32 with 20 rounds (Salmon, Moraes, Dror and Shaw, "Parallel random numbers: as easy as 1, 2, 3", 2011):
 * key (run seed, block seed), counter (path hash, tick), all i32. A counter-based generator: any tick of any block
 * can be had alone, and neighbouring seeds, paths and ticks have nothing to do with each other.
 */
export function randomWords(workspace: Workspace): Func {
  const b = new Builder('random_words', ['i32', 'i32', 'i32', 'i32']);
  const { i, int } = arithmetic(b, 'f32');
  const slots = words(workspace);
  const [run, block, path, tick] = [0, 1, 2, 3];
  const keys = [run, block, i.xor(i.xor(run, block), int(parity))] as const;
  const key = (at: number): Value => keys[at % 3] ?? run;
  let [x, y] = [i.add(path, run), i.add(tick, block)];
  for (let round = 0; round < 20; round++) {
    x = i.add(x, y);
    const by = rotations[round % 8] ?? 0;
    y = i.xor(i.or(i.shl(y, int(by)), i.ushr(y, int(32 - by))), x);
    if (round % 4 === 3) {
      const turn = (round + 1) / 4;
      x = i.add(x, key(turn));
      y = i.add(i.add(y, key(turn + 1)), int(turn));
    }
  }
  b.store(slots.first, x);
  b.store(slots.second, y);
  return b.finish();
}

/**
 * A standard normal number of (run seed, block seed, path hash, tick) after Box and Muller (1958):
 * √(−2 log u) cos 2πv, u from the first word in (0, 1] (24 bits of it in f32, all in f64), v from the second.
 * Never beyond ±5.77 in f32 and ±6.67 in f64.
 */
export function normal(real: Real, workspace: Workspace): Func {
  const b = new Builder(`normal_${real}`, ['i32', 'i32', 'i32', 'i32']);
  const { i, int, number, add, mul, sqrt, fromInt } = arithmetic(b, real);
  const slots = words(workspace);
  const [quarterPi = 0] = pieces.quarterPiRounded[real];
  b.run('random_words', 0, 1, 2, 3);

  const [first, second] = [b.load(slots.first, 'i32'), b.load(slots.second, 'i32')];
  const u =
    real === 'f32'
      ? mul(add(fromInt(i.shr(first, int(8))), number(2 ** 23 + 1)), number(2 ** -24))
      : mul(add(fromInt(first), number(2 ** 31 + 1)), number(2 ** -32));
  const radius = sqrt(mul(number(-2), b.call(`log_${real}`, real, u)));
  const quarter = i.ushr(i.add(second, int(0x20000000)), int(30));
  const angle = mul(fromInt(i.shl(second, int(2))), number(quarterPi * 2 ** -31));
  const rest = reduced(real, workspace);
  b.store(rest.high, angle);
  b.store(rest.low, number(0));
  return b.finish(mul(radius, b.call(`sine_in_${real}`, real, i.add(quarter, int(1)))));
}

/** The path of a block as the i32 that `random_words` takes: FNV-1a (32 bits) of its UTF-8 bytes. */
export function pathHash(path: string): number {
  let hash = 0x811c9dc5;
  for (const byte of new TextEncoder().encode(path)) hash = Math.imul(hash ^ byte, 0x01000193);
  return hash | 0;
}
