/** A loop of one or several rates, cut open at one wire: its response at the fundamental, its poles, and those of the loop closed. */

import { Matrix, solve } from 'ml-matrix';
import { eigenvalues } from './eigenvalues.ts';
import { factoredOf } from './factored.ts';
import { connected, hasMode, withoutFree } from './minimal.ts';
import { openLoop } from './response.ts';
import type { SheetModel } from './sheet_model.ts';
import type { Complex, OpenLoop, StateSpace } from './system.ts';

/** The response of a model with one excitation and one output, at ω rad/s. */
export function responseOf({ system, samples, sample }: SheetModel): (w: number) => Complex {
  return samples === 1
    ? openLoop({ ...factoredOf(connected(system)), dt: sample }).at
    : fundamental(system, samples, sample);
}

/** How far from rest rounding may take poles that are several there. */
const RING = 1e-6;

export function loopOf(model: SheetModel): OpenLoop {
  const { system: whole, samples, sample, apart } = model;
  const system = withoutFree({ ...whole, C: Matrix.mul(whole.C, -1), D: Matrix.mul(whole.D, -1) });
  if (samples === 1) {
    const factors = factoredOf(system);
    const loop = openLoop({ ...factors, poles: settled(system, factors.poles), dt: sample });
    return withApart({ ...loop, closed: (factor) => closedPoles(system, factor) }, apart);
  }
  const at = fundamental(system, samples, sample);
  return withApart(
    {
      dt: sample,
      delay: 0,
      at,
      poles: rootsOver(settled(system, eigenvalues(system.A)), samples),
      zeros: [],
      direct: 0,
      closed: (factor) => rootsOver(closedPoles(system, factor), samples),
    },
    apart,
  );
}

/** The same model with its inputs held over the whole period, watched once a period. */
export function heldOver({ system, samples }: SheetModel, inputs: number, outputs: number): StateSpace {
  if (samples === 1) return system;
  const first = Array.from({ length: outputs }, (_, i) => i);
  const total = Matrix.zeros(system.B.rows, inputs);
  for (let i = 0; i < system.B.rows; i++)
    for (let j = 0; j < system.B.columns; j++) total.set(i, j % inputs, total.get(i, j % inputs) + system.B.get(i, j));
  const D = system.D.selection(
    first,
    Array.from({ length: inputs }, (_, j) => j),
  );
  return { ...system, B: total, C: system.C.selection(first, [...system.A.to2DArray().keys()]), D };
}

/** Poles at rest exactly there: integrators in a row come out of rounding as a ring around it. */
function settled({ A, dt }: StateSpace, poles: readonly Complex[]): readonly Complex[] {
  const rest = { re: dt === 0 ? 0 : 1, im: 0 };
  if (!hasMode(A, rest)) return poles;
  return poles.map((pole) => (Math.hypot(pole.re - rest.re, pole.im) < RING ? { ...rest } : pole));
}

function withApart(loop: OpenLoop, apart: readonly Complex[]): OpenLoop {
  if (apart.length === 0) return loop;
  const closed = (factor: number): readonly Complex[] | undefined => {
    const own = loop.closed(factor);
    return own === undefined ? undefined : [...own, ...apart];
  };
  return { ...loop, poles: [...loop.poles, ...apart], closed };
}

/** Poles with every sample's output fed back, negatively, to its input. */
function closedPoles({ A, B, C, D }: StateSpace, factor: number): readonly Complex[] {
  if (A.rows === 0) return [];
  const back = solve(Matrix.add(Matrix.eye(D.rows), Matrix.mul(D, factor)), Matrix.mul(C, factor));
  return eigenvalues(Matrix.sub(A, B.mmul(back)));
}

/** Poles of a whole period as poles of one sample: the principal root, which has the same growth a second. */
function rootsOver(poles: readonly Complex[], samples: number): readonly Complex[] {
  return poles.map(({ re, im }) => {
    const size = Math.hypot(re, im) ** (1 / samples);
    const angle = Math.atan2(im, re) / samples;
    return { re: size * Math.cos(angle), im: size * Math.sin(angle) };
  });
}

/**
 * A frequency at which a period's turn is not one of its poles at the edge: these stand at every multiple of the period's own frequency,
 * where the response of a loop is smooth but could only be had as 0/0.
 */
function beside(w: number, edge: readonly Complex[], period: number): number {
  const near = edge.some(({ re, im }) => Math.hypot(Math.cos(w * period) - re, Math.sin(w * period) - im) < RING);
  return near ? w + (2 * RING) / period : w;
}

/**
 * The part of the output that has the excitation's own frequency, over the excitation e^(jωt): with u the samples of one
 * period, x(n+1) = A·x + B·u, and what the samples of the output have in common with u.
 */
function fundamental({ A, B, C, D }: StateSpace, samples: number, sample: number): (w: number) => Complex {
  const n = A.rows;
  const edge = eigenvalues(A).filter(({ re, im }) => Math.abs(Math.hypot(re, im) - 1) < RING);
  return (asked) => {
    const w = beside(asked, edge, samples * sample);
    const [ur, ui] = [new Float64Array(samples), new Float64Array(samples)];
    for (let j = 0; j < samples; j++) {
      ur[j] = Math.cos(w * sample * j);
      ui[j] = Math.sin(w * sample * j);
    }
    const times = (M: Matrix, row: number): readonly [number, number] => {
      let [re, im] = [0, 0];
      for (let j = 0; j < samples; j++) {
        re += M.get(row, j) * (ur[j] ?? 0);
        im += M.get(row, j) * (ui[j] ?? 0);
      }
      return [re, im];
    };
    // (e^(jω·period) − A)·x = B·u as one real system of twice the size.
    const turn = w * sample * samples;
    const system = Matrix.zeros(2 * n, 2 * n);
    const right = Matrix.zeros(2 * n, 1);
    for (let i = 0; i < n; i++) {
      for (let j = 0; j < n; j++) {
        system.set(i, j, -A.get(i, j));
        system.set(n + i, n + j, -A.get(i, j));
      }
      system.set(i, i, Math.cos(turn) - A.get(i, i));
      system.set(n + i, n + i, Math.cos(turn) - A.get(i, i));
      system.set(i, n + i, -Math.sin(turn));
      system.set(n + i, i, Math.sin(turn));
      const [re, im] = times(B, i);
      right.set(i, 0, re);
      right.set(n + i, 0, im);
    }
    const x = n === 0 ? right : solve(system, right);
    let [re, im] = [0, 0];
    for (let j = 0; j < samples; j++) {
      let [yr, yi] = times(D, j);
      for (let i = 0; i < n; i++) {
        yr += C.get(j, i) * x.get(i, 0);
        yi += C.get(j, i) * x.get(n + i, 0);
      }
      re += yr * (ur[j] ?? 0) + yi * (ui[j] ?? 0);
      im += yi * (ur[j] ?? 0) - yr * (ui[j] ?? 0);
    }
    return { re: re / samples, im: im / samples };
  };
}
