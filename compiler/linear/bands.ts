/** What becomes of a loop when a setting is a little more or less than it says: the members of a band, and the worst. */

import { type Margins, margins } from './margins.ts';
import type { OpenLoop } from './system.ts';

/** A loop as a function of what a setting is multiplied by. */
export interface Varied {
  readonly name: string;
  readonly loop: (factor: number) => OpenLoop;
}

export interface Member {
  readonly name: string;
  readonly factor: number;
  readonly margins: Margins;
}

export interface Band {
  readonly members: readonly Member[];
  /** The unstable member furthest gone, or the one that comes nearest to −1. */
  readonly worst: Member;
}

/** Members of a band of ± `part` (0.1 for ± 10 %) in evenly spaced factors, and the worst of them, sought out between. */
export function band(varied: Varied, part: number, count = 5): Band {
  const at = (factor: number): Member => ({ name: varied.name, factor, margins: margins(varied.loop(factor)) });
  const spacing = (2 * part) / (count - 1);
  const members = Array.from({ length: count }, (_, i) => at(i === (count - 1) / 2 ? 1 : 1 - part + spacing * i));
  let worst = worstOf(members);
  // Between its neighbours there may be a worse one: two closer looks.
  for (let step = spacing / 2, i = 0; i < 2; i++, step /= 2) {
    const beside = [worst.factor - step, worst.factor + step].filter(
      (factor) => Math.abs(factor - 1) <= part * (1 + 1e-12),
    );
    if (Math.abs(Math.abs(worst.factor - 1) - part) < 1e-12 * part) break;
    worst = worstOf([worst, ...beside.map(at)]);
  }
  return { members, worst };
}

/** The worst member of several bands. */
export function worstOf(members: readonly Member[]): Member {
  const [first, ...rest] = members;
  if (first === undefined) throw new Error('a band has at least one member');
  return rest.reduce((worst, member) => (badness(member) > badness(worst) ? member : worst), first);
}

/** Rises with how bad it is: closeness to −1 while stable; beyond, poles gone and how far around the curve is. */
function badness({ margins: { closedLoopUnstable, modulusMargin } }: Member): number {
  if (closedLoopUnstable === 0) return -modulusMargin;
  return closedLoopUnstable === null
    ? Number.POSITIVE_INFINITY
    : closedLoopUnstable + modulusMargin / (1 + modulusMargin);
}

/** Least and greatest |L| of several loops at each ω, for drawing a band. */
export function envelope(
  loops: readonly OpenLoop[],
  frequencies: readonly number[],
): { low: number[]; high: number[] } {
  const sizes = frequencies.map((w) =>
    loops.map((loop) => {
      const { re, im } = loop.at(w);
      return Math.hypot(re, im);
    }),
  );
  return { low: sizes.map((list) => Math.min(...list)), high: sizes.map((list) => Math.max(...list)) };
}
