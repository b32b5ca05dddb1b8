/**
 * Equations of motion from energies: Lagrange's equations of the second kind,
 * d/dt ∂T/∂q̇ᵢ − ∂T/∂qᵢ + ∂V/∂qᵢ + ∂D/∂q̇ᵢ = Qᵢ, written as M(q)·q̈ + rest(q, q̇, t) = forces(q, q̇, t, inputs).
 */

import type { Finding, Found } from '../findings.ts';
import { host } from '../ir/host.ts';
import { nearestDouble } from '../language/rational.ts';
import type { Expression } from '../language/syntax.ts';
import type { EnergyModel } from '../sheet/energy_model.ts';
import { slope, sumOf } from './motion_calculus.ts';
import { type ReadModel, readModel } from './motion_check.ts';
import { add, multiply, NoSum, named, namesOf, negated, type Sum, shortened, subtract, zero } from './motion_terms.ts';

/** The equations of a model, n coordinates in its order. */
export interface MotionEquations {
  readonly model: ReadModel;
  /** ∂²T/∂q̇ᵢ∂q̇ⱼ, n rows of n; unit of J/(unit of qᵢ · unit of qⱼ)·s². */
  readonly mass: readonly (readonly Sum[])[];
  /** What stands beside the accelerations on the left: inertia forces, springs, weights, losses. */
  readonly rest: readonly Sum[];
  /** The generalised forces Q. */
  readonly forces: readonly Sum[];
}

/**
 * Derives the equations. Coefficients are exact fractions all the way; numbers with units stay as written. With findings
 * at level `error` there are no equations. Never throws at a user.
 */
export function equationsOfMotion(model: EnergyModel): Found<MotionEquations> {
  const findings: Finding[] = [];
  const read = readModel(model, findings);
  if (read === undefined) return { value: undefined, findings };
  const value = derive(read, findings);
  return { value: findings.some(({ level }) => level === 'error') ? undefined : value, findings };
}

function derive(model: ReadModel, findings: Finding[]): MotionEquations | undefined {
  const report = (id: string, path: string, facts: Finding['facts']): undefined => {
    findings.push({ id, level: 'error', at: { path }, facts });
    return undefined;
  };
  /** The result, or a finding where an expression cannot be worked with. */
  const trying = <T>(path: string, work: () => T): T | undefined => {
    try {
      return work();
    } catch (thrown) {
      if (!(thrown instanceof NoSum)) throw thrown;
      return report(thrown.reason, path, { what: thrown.what });
    }
  };
  const { coordinates } = model;
  const at = (e: Expression | undefined): Sum => (e === undefined ? zero : shortened(sumOf(e)));
  const kinetic = trying('kinetic', () => at(model.kinetic));
  const potential = trying('potential', () => at(model.potential));
  const dissipation = trying('dissipation', () => at(model.dissipation));
  const forces = trying('forces', () =>
    coordinates.map((_, i) => add(...model.forces.filter(({ on }) => on === i).map(({ value }) => sumOf(value, true)))),
  );
  if (kinetic === undefined || potential === undefined || dissipation === undefined || forces === undefined)
    return undefined;

  const made = trying('kinetic', () => {
    const momenta = coordinates.map(({ speed }) => shortened(slope(kinetic, speed)));
    const mass = momenta.map((momentum) => coordinates.map(({ speed }) => shortened(slope(momentum, speed))));
    const rest = coordinates.map(({ name, speed }, i) => {
      const momentum = momenta[i] ?? zero;
      const carried = coordinates.map((other) => multiply(slope(momentum, other.name), named(other.speed)));
      return shortened(
        add(
          ...carried,
          slope(momentum, 't'),
          negated(slope(kinetic, name)),
          slope(potential, name),
          slope(dissipation, speed),
        ),
      );
    });
    return { model, mass, rest, forces: forces.map(shortened) };
  });
  if (made === undefined) return undefined;
  for (const [i, { name, speed }] of coordinates.entries())
    if (made.mass[i]?.every((entry) => entry.size === 0) === true)
      report('motion_without_inertia', 'kinetic', { name, speed, used: namesOf(kinetic).has(speed) ? 'yes' : 'no' });
  if (findings.length === 0) checkMass(made, report);
  return made;
}

/** What is left for the accelerations: forces − rest. */
export function drivenBy({ rest, forces }: MotionEquations): Sum[] {
  return forces.map((force, i) => subtract(force, rest[i] ?? zero));
}

/** Looks whether the accelerations can be solved for: at the start, and elsewhere to tell how general it is. */
function checkMass(equations: MotionEquations, report: (id: string, path: string, facts: Finding['facts']) => void) {
  const { model, mass } = equations;
  const values = new Map<string, number>();
  const numberOf = (e: Expression): number => {
    try {
      return valueAt(sumOf(e), values);
    } catch (thrown) {
      if (!(thrown instanceof NoSum)) throw thrown;
      return Number.NaN;
    }
  };
  // A value may stand on values after it, but not in a circle.
  for (const _ of model.parameters)
    for (const { name, value } of model.parameters) {
      const number = numberOf(value);
      if (!Number.isNaN(number)) values.set(name, number);
    }
  for (const [i, { name, above }] of model.parameters.entries()) {
    const value = values.get(name);
    if (value === undefined) return report('motion_no_value', 'parameters', { name });
    if (above !== undefined && !(value > above))
      return report('motion_not_above', `parameters.${i}`, { name, above: String(above) });
  }
  values.set('t', 0);
  const isSingularAt = (shift: number): boolean => {
    for (const [i, { name, speed, start, startSpeed }] of model.coordinates.entries()) {
      values.set(name, numberOf(start) + shift * (0.37 + 0.211 * i));
      values.set(speed, numberOf(startSpeed) + shift * (0.23 + 0.157 * i));
    }
    return isSingular(mass.map((row) => row.map((entry) => valueAt(entry, values))));
  };
  if (!isSingularAt(0)) return;
  const isEverywhere = [0.3, 0.7, 1.1, -0.9].every(isSingularAt);
  report('motion_mass_singular', 'kinetic', { where: isEverywhere ? 'everywhere' : 'at the start' });
}

/** By elimination, each row and column brought to size 1 first; what is not a number counts as singular. */
function isSingular(mass: readonly (readonly number[])[]): boolean {
  const size = mass.map((row) => Math.sqrt(Math.max(...row.map(Math.abs))));
  if (size.some((each) => !(each > 0) || !Number.isFinite(each))) return true;
  const rows = mass.map((row, i) => row.map((entry, j) => entry / ((size[i] ?? 1) * (size[j] ?? 1))));
  for (let k = 0; k < rows.length; k++) {
    let best = k;
    for (let i = k; i < rows.length; i++) if (Math.abs(rows[i]?.[k] ?? 0) > Math.abs(rows[best]?.[k] ?? 0)) best = i;
    const [pivot = [], other = []] = [rows[best], rows[k]];
    rows[k] = pivot;
    rows[best] = other;
    if (!(Math.abs(pivot[k] ?? 0) > 1e-12)) return true;
    for (let i = k + 1; i < rows.length; i++) {
      const factor = (rows[i]?.[k] ?? 0) / (pivot[k] ?? 1);
      rows[i] = (rows[i] ?? []).map((entry, j) => entry - factor * (pivot[j] ?? 0));
    }
  }
  return false;
}

/** A sum's value; not a number where a name has none. Looked at only, never written into a program. */
export function valueAt(sum: Sum, values: ReadonlyMap<string, number>): number {
  let total = 0;
  for (const { coefficient, factors } of sum.values()) {
    let product = nearestDouble(coefficient);
    for (const { atom, power } of factors.values()) {
      const value = ((): number => {
        switch (atom.kind) {
          case 'name':
            return atom.name === 'pi' ? Math.PI : (values.get(atom.name) ?? Number.NaN);
          case 'sum':
            return valueAt(atom.of, values);
          case 'opaque':
            return atom.expression.kind === 'number' ? atom.expression.value : Number.NaN;
          case 'call': {
            const [x = Number.NaN, y = Number.NaN] = atom.args.map((arg) => valueAt(arg, values));
            return elementary[atom.func]?.(x, y) ?? Number.NaN;
          }
        }
      })();
      product *= value ** power;
    }
    total += product;
  }
  return total;
}

const elementary: Readonly<Record<string, (x: number, y: number) => number>> = {
  sin: host.sin,
  cos: host.cos,
  tan: host.tan,
  asin: host.asin,
  acos: host.acos,
  atan: host.atan,
  exp: host.exp,
  log: host.log,
  pow: host.pow,
  sqrt: Math.sqrt,
  abs: Math.abs,
  sign: Math.sign,
};
