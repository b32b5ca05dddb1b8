/** The margins of a loop of a sheet, with those of several rates judged by the poles of a whole period. */

import { sidesOf } from './edge.ts';
import { type Margins, margins } from './margins.ts';
import { loopOf } from './periodic.ts';
import type { SheetModel } from './sheet_model.ts';
import type { OpenLoop } from './system.ts';

/** Step of the search for the ends of stability, and how far it goes. */
const STEP = 1.05;
const FARTHEST = 1e4;
/** Halvings of a step that holds an end. */
const HALVINGS = 40;

/**
 * Of a loop of one rate these are exact. Of several rates the response is that at the fundamental: crossovers, phase and delay
 * margins and the peak are of it, while the gains that keep the loop stable are those at which the closed loop's poles are inside.
 */
export function sheetMargins(model: SheetModel): Margins {
  const loop = loopOf(model);
  const found = margins(loop);
  if (model.samples === 1 || found.closedLoopUnstable !== 0) return found;
  const low = endOf(loop, 1 / STEP);
  return { ...found, gainInterval: [low ?? 0, endOf(loop, STEP) ?? null] };
}

/** The first gain on the way from 1, by `step`, at which the loop is stable no more; undefined where there is none. */
function endOf(loop: OpenLoop, step: number): number | undefined {
  const isStable = (gain: number): boolean => sidesOf(loop.closed(gain) ?? [], loop.dt).unstable.length === 0;
  let stable = 1;
  for (let gain = step; gain < FARTHEST && gain > 1 / FARTHEST; gain *= step) {
    if (isStable(gain)) {
      stable = gain;
      continue;
    }
    let unstable = gain;
    for (let k = 0; k < HALVINGS; k++) {
      const middle = Math.sqrt(stable * unstable);
      if (isStable(middle)) stable = middle;
      else unstable = middle;
    }
    return stable;
  }
  return undefined;
}
