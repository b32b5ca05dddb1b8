/** Where closed-loop poles go as the gain rises: one branch a pole, followed from gain to gain. */

import { closedPolesOf, follower, withoutTwins } from './closed_poles.ts';
import { factored } from './factored.ts';
import type { Complex, Factored, TransferFunction } from './system.ts';

export interface Locus {
  readonly gains: readonly number[];
  /** At each gain the poles, in the same order at all gains: `poles[i][b]` is where branch `b` has come to. */
  readonly poles: readonly (readonly Complex[])[];
}

/** How often a step from one gain to the next is halved to follow branches that come close. */
const MOST_HALVINGS = 5;
/** Poles this near each other, as a part of their size, are found from the coefficients where there are some. */
const CLOSE = 1e-4;

interface Places {
  readonly re: Float64Array;
  readonly im: Float64Array;
}

/** Closed-loop poles of 1 + gain·L at each of the gains, in the order of the gains given. */
export function locus(system: TransferFunction | Factored, gains: readonly number[]): Locus {
  const given = 'poles' in system ? undefined : system;
  const { zeros, poles, gain } = 'poles' in system ? system : factored(system);
  const apart = withoutTwins(zeros, poles);
  const twins = apart.twins;
  const follow = follower(apart.zeros, apart.poles, gain);
  const direct = apart.zeros.length === apart.poles.length ? gain : 0;
  const order = Array.from(gains.keys()).sort((i, j) => (gains[i] ?? 0) - (gains[j] ?? 0));
  const made = new Array<readonly Complex[]>(gains.length);
  let at: Places = {
    re: Float64Array.from(apart.poles, ({ re }) => re),
    im: Float64Array.from(apart.poles, ({ im }) => im),
  };
  let here = 0;
  const up = order.filter((i) => (gains[i] ?? 0) >= 0);
  const down = order.filter((i) => (gains[i] ?? 0) < 0).reverse();
  const start = at;
  for (const [side, list] of [up, down].entries()) {
    at = start;
    here = 0;
    for (const i of list) {
      const next = gains[i] ?? 0;
      at = next === here ? at : step(follow, at, here, next, side === 0 ? 1 : -1, 0);
      here = next;
      if (given !== undefined && next !== 0 && areClose(at))
        at = matched(at, placesOf(closedPolesOf(given, next), twins));
      // A gain of −1 straight through takes a pole to infinity.
      const lost = Math.abs(1 + next * direct) < 1e-14;
      const list = Array.from(at.re, (re, k) => ({ re, im: at.im[k] ?? 0 }));
      const kept = lost ? list.filter(({ re, im }) => Number.isFinite(re) && Math.hypot(re, im) < 1e14) : list;
      made[i] = [...kept, ...twins];
    }
  }
  return { gains, poles: made };
}

type Follow = (re: Float64Array, im: Float64Array, factor: number) => void;

/** Poles at the next gain, each in the place of the one it comes from; on the way the step is halved where that is in doubt. */
function step(follow: Follow, from: Places, here: number, next: number, sign: number, depth: number): Places {
  const to = { re: from.re.slice(), im: from.im.slice() };
  follow(to.re, to.im, next);
  if (isPlain(from, to)) return to;
  if (depth >= MOST_HALVINGS) return matched(from, to);
  const middle = here === 0 ? next / 8 : sign * Math.sqrt(here * next);
  const half = step(follow, from, here, middle, sign, depth + 1);
  return step(follow, half, middle, next, sign, depth + 1);
}

/** Whether each pole has moved by less than half of what it is from all the others. */
function isPlain(from: Places, to: Places): boolean {
  const n = from.re.length;
  for (let i = 0; i < n; i++) {
    const x = from.re[i] as number;
    const y = from.im[i] as number;
    const moved = ((to.re[i] as number) - x) ** 2 + ((to.im[i] as number) - y) ** 2;
    for (let j = 0; j < n; j++) {
      if (j !== i && 4 * moved > ((to.re[j] as number) - x) ** 2 + ((to.im[j] as number) - y) ** 2) return moved === 0;
    }
  }
  return true;
}

/** The new poles in the order of the old ones, nearest pairs first. */
function matched(from: Places, to: Places): Places {
  const n = from.re.length;
  const pairs: { i: number; j: number; apart: number }[] = [];
  for (let i = 0; i < n; i++) {
    for (let j = 0; j < n; j++) {
      const apart = Math.hypot((from.re[i] ?? 0) - (to.re[j] ?? 0), (from.im[i] ?? 0) - (to.im[j] ?? 0));
      pairs.push({ i, j, apart });
    }
  }
  pairs.sort((a, b) => a.apart - b.apart);
  const made = { re: new Float64Array(n), im: new Float64Array(n) };
  const placed = new Uint8Array(n);
  const taken = new Uint8Array(n);
  for (const { i, j } of pairs) {
    if (placed[i] === 1 || taken[j] === 1) continue;
    placed[i] = 1;
    taken[j] = 1;
    made.re[i] = to.re[j] ?? 0;
    made.im[i] = to.im[j] ?? 0;
  }
  return made;
}

function areClose({ re, im }: Places): boolean {
  for (let i = 0; i < re.length; i++) {
    const [x, y] = [re[i] as number, im[i] as number];
    const near = (CLOSE * Math.hypot(x, y)) ** 2;
    for (let j = 0; j < i; j++) {
      if (((re[j] as number) - x) ** 2 + ((im[j] as number) - y) ** 2 <= near) return true;
    }
  }
  return false;
}

/** Poles found from coefficients, without those that never move. */
function placesOf(poles: readonly Complex[], fixed: readonly Complex[]): Places {
  const left = [...poles];
  for (const { re, im } of fixed) {
    const away = left.map((pole) => Math.hypot(pole.re - re, pole.im - im));
    left.splice(away.indexOf(Math.min(...away)), 1);
  }
  return { re: Float64Array.from(left, ({ re }) => re), im: Float64Array.from(left, ({ im }) => im) };
}
