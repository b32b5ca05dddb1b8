/** A point of rest of a whole sheet, by Newton's method from its start values, with what is held held. */

import { Matrix, pseudoInverse } from 'ml-matrix';
import type { Port } from '../stages/lower.ts';
import { withoutDust } from './dust.ts';
import type { Scalar, SheetPoint } from './sheet_point.ts';

/** A value that must come out as told. */
export interface Constraint {
  readonly name: string;
  readonly at: Port;
  readonly value: number;
}

export interface RestRequest {
  /** Ticks after which everything repeats. */
  readonly period: number;
  /** Scalars that keep a value. */
  readonly fixed: ReadonlyMap<Scalar, number>;
  readonly constraints: readonly Constraint[];
  /** What is looked at: only what moves it must be at rest. */
  readonly targets: readonly Port[];
  /** Puts in place, after a start, what is put for good. */
  prepare(): void;
}

export interface Rest {
  /** All slots' values at the beginning of a period. */
  readonly values: readonly (readonly number[])[];
  /** What moves the targets, with its value. */
  readonly point: readonly { readonly name: string; readonly value: number }[];
}

/** Why there is none: what is farthest from rest, and by how much. */
export interface NoRest {
  readonly restless: string;
  readonly by: number;
}

const MOST_STEPS = 60;
/** What counts as at rest, of what a step of 1 of the most influential number would change it by. */
const STILL = 1e-9;
/** Singular values below this part of the largest count as 0. */
const RANK = 1e-11;

/** One equation: how far from rest something is, and its derivatives by every scalar. */
interface Residual {
  readonly name: string;
  readonly value: number;
  readonly gradient: Float64Array;
}

/**
 * Newton's method with steps of least length where the point is not unique, halved where they would lead farther away. Continuous states are
 * at rest when their rates are 0, memories when a whole period leaves them as they were; true and false stay as the first
 * period has left them.
 */
export function findRest(point: SheetPoint, request: RestRequest): Rest | NoRest {
  const { machine, scalars } = point;
  point.start();
  request.prepare();
  for (const [scalar, value] of request.fixed) point.put(scalar, value);
  for (let k = 0; k < request.period; k++) point.runTick();
  const began = machine.values();
  let x = scalars.map((scalar) => request.fixed.get(scalar) ?? point.value(scalar));
  const free = new Set<number>();

  const look = (at: readonly number[]): Residual[] => {
    machine.load(began);
    for (const [i, scalar] of scalars.entries()) point.put(scalar, at[i] ?? 0);
    point.seedScalars();
    for (let k = 0; k < request.period; k++) point.runTick();
    const { values, gradients } = point.rates();
    const own = scalars.map((scalar, i): Residual => {
      if (i < point.states)
        return { name: scalar.name, value: values[i] ?? 0, gradient: gradients[i] ?? new Float64Array(0) };
      const gradient = Float64Array.from(point.gradient(scalar));
      gradient[i] = (gradient[i] ?? 0) - 1;
      return { name: scalar.name, value: point.value(scalar) - (at[i] ?? 0), gradient };
    });
    const asked = request.constraints.map(
      ({ name, at: { slot, element }, value }): Residual => ({
        name,
        value: machine.read(slot, element) - value,
        gradient: machine.gradient(slot, element),
      }),
    );
    const seen = request.targets.map(({ slot, element }) => machine.gradient(slot, element));
    spread(free, [...seen, ...asked.map(({ gradient }) => gradient)], own);
    for (const [i, scalar] of scalars.entries())
      if (request.fixed.has(scalar) || (i >= point.states && keepsItself(own[i]))) free.delete(i);
    return [...asked, ...own.filter((_, i) => free.has(i))];
  };

  let residuals = look(x);
  if (request.constraints.length > 0) {
    // What is asked for first, so that the search begins on the right side of a stop or a limit.
    for (let k = 0; k < 5; k++) {
      const asked = residuals.slice(0, request.constraints.length);
      if (worst(asked).by <= STILL) break;
      x = moved(x, step(asked, free), 1);
      residuals = look(x);
    }
  }
  for (let k = 0; k < MOST_STEPS; k++) {
    const size = length(residuals);
    if (worst(residuals).by <= STILL * 1e-3) break;
    const direction = step(residuals, free);
    let best: { readonly x: number[]; readonly residuals: Residual[] } | undefined;
    for (let share = 1; share > 1e-3 && best === undefined; share /= 2) {
      const there = moved(x, direction, share);
      const found = look(there);
      if (length(found) < size || found.length !== residuals.length) best = { x: there, residuals: found };
    }
    if (best === undefined) break;
    ({ x, residuals } = best);
  }
  const { name, by } = worst(residuals);
  if (!(by <= STILL)) return { restless: name, by };
  machine.load(began);
  for (const [i, scalar] of scalars.entries()) point.put(scalar, x[i] ?? 0);
  const shown = [...free].sort((a, b) => a - b).map((i) => ({ name: scalars[i]?.name ?? '', value: x[i] ?? 0 }));
  return { values: machine.values(), point: shown };
}

/** Adds all that moves what is seen, and what moves that. */
function spread(free: Set<number>, seen: readonly Float64Array[], own: readonly Residual[]): void {
  const open = [...seen, ...[...free].map((i) => own[i]?.gradient ?? new Float64Array(0))];
  for (let gradient = open.pop(); gradient !== undefined; gradient = open.pop())
    for (let i = 0; i < own.length; i++) {
      const { gradient: next } = own[i] as Residual;
      if ((gradient[i] ?? 0) === 0 || free.has(i)) continue;
      free.add(i);
      open.push(next);
    }
}

/** A memory that nothing changes here stays as it is: it is no way to come to rest. */
function keepsItself(residual: Residual | undefined): boolean {
  return residual === undefined || (residual.value === 0 && residual.gradient.every((slope) => slope === 0));
}

/** The largest influence of any scalar. */
function weight({ gradient }: Residual): number {
  let most = 0;
  for (const slope of gradient) most = Math.max(most, Math.abs(slope));
  return most > 0 && Number.isFinite(most) ? most : 1;
}

function length(residuals: readonly Residual[]): number {
  return Math.hypot(...residuals.map((residual) => residual.value / weight(residual)));
}

function worst(residuals: readonly Residual[]): { readonly name: string; readonly by: number } {
  let found = { name: '', by: 0 };
  for (const residual of residuals) {
    const by = Math.abs(residual.value) / weight(residual);
    if (!(by <= found.by)) found = { name: residual.name, by };
  }
  return found;
}

/** The step of least length that would, if everything were straight, leave the least of the residuals. */
function step(residuals: readonly Residual[], free: ReadonlySet<number>): ReadonlyMap<number, number> {
  const columns = [...free];
  if (residuals.length === 0 || columns.length === 0) return new Map();
  const J = new Matrix(
    residuals.map((residual) => {
      const over = weight(residual);
      return columns.map((i) => (residual.gradient[i] ?? 0) / over);
    }),
  );
  if (J.to1DArray().some((entry) => !Number.isFinite(entry))) return new Map();
  const r = Matrix.columnVector(residuals.map((residual) => residual.value / weight(residual)));
  const by = pseudoInverse(withoutDust(J), RANK).mmul(r);
  return new Map(columns.map((i, at) => [i, -by.get(at, 0)]));
}

function moved(x: readonly number[], direction: ReadonlyMap<number, number>, share: number): number[] {
  return x.map((value, i) => value + share * (direction.get(i) ?? 0));
}
