/** Margins of loops with twenty states against the same work in SciPy, and all that a view of a loop with twelve states needs. */

import { spawnSync } from 'node:child_process';
import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { Matrix } from 'ml-matrix';
import { expect, test } from 'vitest';
import { band } from '../../compiler/linear/bands.ts';
import { factoredOf } from '../../compiler/linear/factored.ts';
import { locus } from '../../compiler/linear/locus.ts';
import { margins } from '../../compiler/linear/margins.ts';
import { openLoop } from '../../compiler/linear/response.ts';
import { finalValue, stepFigures } from '../../compiler/linear/step_figures.ts';
import type { StateSpace } from '../../compiler/linear/system.ts';
import { timeResponse } from '../../compiler/linear/time_response.ts';

const LOOPS = 40;
const python = '/usr/bin/python3';
const hasScipy = spawnSync(python, ['-c', 'import scipy']).status === 0;
if (!hasScipy) console.log(`MISSING: SciPy for ${python} (Debian: python3-scipy). Its comparison is skipped.`);

/** Random stable loops from a fixed seed. */
function loops(states: number): StateSpace[] {
  let at = 20_261;
  const next = () => {
    at = (at * 16_807) % 2_147_483_647;
    return at / 2_147_483_647 - 0.5;
  };
  return Array.from({ length: LOOPS }, () => {
    const A = Matrix.zeros(states, states);
    for (let i = 0; i < states; i++)
      for (let j = 0; j < states; j++) A.set(i, j, 4 * next() - (i === j ? 1.3 * Math.sqrt(states) : 0));
    const B = new Matrix(Array.from({ length: states }, () => [3 * next()]));
    const C = new Matrix([Array.from({ length: states }, () => 3 * next())]);
    return { A, B, C, D: new Matrix([[0]]), dt: 0 };
  });
}

/** Milliseconds of the median of one call each, everything warm. */
function median<T>(list: readonly T[], work: (one: T) => void): number {
  for (let i = 0; i < 20; i++) for (const one of list) work(one);
  const times = list.map((one) => {
    const began = performance.now();
    work(one);
    return performance.now() - began;
  });
  return times.sort((a, b) => a - b)[times.length >> 1] ?? 0;
}

interface Figures {
  readonly crossovers: readonly number[];
  readonly sensitivity: number;
  readonly unstable: number;
  readonly count: number;
  readonly delay: number | null;
  readonly phases: readonly number[];
  readonly complementary: number;
  readonly interval: readonly [number, number | null] | null;
}

test.runIf(hasScipy)(
  'margins of twenty states agree with SciPy doing the same, and are found several times faster',
  () => {
    const list = loops(20);
    const input = JSON.stringify(list.map(({ A, B, C }) => [A.to2DArray(), B.to2DArray(), C.to2DArray()]));
    const script = readFileSync(join(import.meta.dirname, 'linear_scipy.py'), 'utf8');
    const { stdout, stderr } = spawnSync(python, ['-c', script], { input, encoding: 'utf8', maxBuffer: 1e8 });
    if (stdout === '') throw new Error(stderr);
    const theirs = JSON.parse(stdout) as { figures: Figures[]; seconds: number };
    list.forEach((system, i) => {
      const found = margins(openLoop(factoredOf(system)));
      const other = theirs.figures[i];
      if (other === undefined) throw new Error('a loop is missing');
      const near = (got: number | null, wanted: number | null, allowed: number) => {
        if (got === null || wanted === null) expect(got).toBe(wanted);
        else expect(Math.abs(got - wanted)).toBeLessThanOrEqual(allowed * Math.abs(wanted));
      };
      expect(found.crossovers).toHaveLength(other.crossovers.length);
      for (const [k, w] of found.crossovers.entries()) near(w, other.crossovers[k] ?? 0, 1e-8);
      expect(found.phaseCrossovers).toHaveLength(other.phases.length);
      for (const [k, w] of found.phaseCrossovers.entries()) near(w, other.phases[k] ?? 0, 1e-8);
      near(found.peakSensitivity, other.sensitivity, 1e-8);
      near(found.peakComplementary, other.complementary, 1e-8);
      near(found.delayMargin, other.delay, 1e-7);
      near(found.gainInterval?.[0] ?? null, other.interval?.[0] ?? null, 1e-7);
      near(found.gainInterval?.[1] ?? null, other.interval?.[1] ?? null, 1e-7);
      expect([found.closedLoopUnstable, found.encirclements]).toEqual([other.unstable, other.count]);
    });
    const ours = median(list, (system) => {
      margins(openLoop(factoredOf(system)));
    });
    const ratio = (theirs.seconds * 1e3) / ours;
    console.log(
      `margins of 20 states: ${ours.toFixed(2)} ms, SciPy ${(theirs.seconds * 1e3).toFixed(1)} ms: ${ratio.toFixed(0)} times faster`,
    );
    // Most of what is left are two sets of eigenvalues from the library.
    expect(ratio).toBeGreaterThan(4);
  },
);

test('all that a view of twelve states needs (goal: within 10 ms) is timed', () => {
  const list = loops(12);
  const gains = Array.from({ length: 200 }, (_, i) => 10 ** (-2 + i / 50));
  const frequencies = Array.from({ length: 400 }, (_, i) => 10 ** (-2 + i / 100));
  const parts: Record<string, (system: StateSpace) => void> = {
    factored: (system) => void factoredOf(system),
    'response at 400': (system) => {
      const loop = openLoop(factoredOf(system));
      for (const w of frequencies) loop.at(w);
    },
    'locus of 200': (system) => void locus(factoredOf(system), gains),
    step: (system) => void stepFigures(timeResponse(system, 'step', 10), finalValue(factoredOf(system))),
    'band of 5': (system) => {
      const factors = factoredOf(system);
      band({ name: 'gain', loop: (factor) => openLoop({ ...factors, gain: factors.gain * factor }) }, 0.1);
    },
  };
  for (const [name, work] of Object.entries(parts)) console.log(`${name}: ${median(list, work).toFixed(2)} ms`);
  const all = median(list, (system) => {
    const factors = factoredOf(system);
    const loop = openLoop(factors);
    margins(loop);
    for (const w of frequencies) loop.at(w);
    locus(factors, gains);
    stepFigures(timeResponse(system, 'step', 10), finalValue(factors));
    band({ name: 'gain', loop: (factor) => openLoop({ ...factors, gain: factors.gain * factor }) }, 0.1);
  });
  console.log(`all for a view of 12 states: ${all.toFixed(1)} ms (goal 10)`);
});
