/** Equations of motion as the text of a plant block, and as typeset formulas. */

import { printExpression } from '../language/print.ts';
import type { Expression } from '../language/syntax.ts';
import { type Formula, type FormulaOptions, layoutFormula, type Rate } from '../picture/formula.ts';
import { drivenBy, type MotionEquations } from './motion.ts';
import type { ReadModel } from './motion_check.ts';
import { Writer } from './motion_print.ts';
import { type Atom, add, multiply, named, namesOfAtom, replaced, type Sum, single, zero } from './motion_terms.ts';

/** What a block is called and said to be for, where the model says nothing. */
export interface BlockWords {
  readonly purpose?: string | undefined;
  readonly source?: string | undefined;
}

const at = { line: 1, column: 1 } as const;

/** Names as factors come: parameters, coordinates, speeds, accelerations, inputs, each as declared. */
function orderOf({ parameters, coordinates, inputs }: ReadModel): string[] {
  return [
    ...parameters.map(({ name }) => name),
    ...coordinates.map(({ name }) => name),
    ...coordinates.map(({ speed }) => speed),
    ...coordinates.map(({ acceleration }) => acceleration),
    ...inputs.map(({ name }) => name),
  ];
}

/** Lagrange's equations, one a coordinate: `M(q)·q̈ + rest == forces`. */
export function balances({ model, mass, rest, forces }: MotionEquations): Expression[] {
  const parameters = new Set([...model.parameters.map(({ name }) => name), 'pi']);
  const writer = new Writer((name) => parameters.has(name), orderOf(model));
  return model.coordinates.map((_, i) => {
    const inertia = model.coordinates.map(({ acceleration }, j) => multiply(mass[i]?.[j] ?? zero, named(acceleration)));
    const left = writer.expression(add(...inertia, rest[i] ?? zero));
    return { kind: 'binary', op: '==', left, right: writer.expression(forces[i] ?? zero), at };
  });
}

/** Lagrange's equations typeset, one a coordinate; speeds and accelerations are their coordinates with dots. */
export function typesetMotion(equations: MotionEquations, options: FormulaOptions = {}): Formula[] {
  const rates: Record<string, Rate> = {};
  for (const { name, speed, acceleration } of equations.model.coordinates) {
    rates[speed] = { of: name, order: 1 };
    rates[acceleration] = { of: name, order: 2 };
  }
  return balances(equations).map((balance) => layoutFormula(balance, { ...options, rates }));
}

/** The text of a plant block: inputs for the forces, outputs for coordinates and speeds, settings for the parameters. */
export function plantBlock(equations: MotionEquations, words: BlockWords = {}): string {
  return new BlockWriter(equations).text(words);
}

const quote = (text: string): string => `"${text.replace(/\s+/g, ' ').replace(/["\\]/g, '\\$&')}"`;
const ending = (words: string | undefined): string => (words === undefined ? '' : ` ${quote(words)}`);
const typed = (name: string, unit: string): string => (unit === '' ? name : `${name}: ${unit}`);

/** The unit of a rate of change, as text. */
function perSecond(unit: string): string {
  if (unit === '' || unit === '1') return '1/s';
  return unit.includes('/') ? `${unit} s` : `${unit}/s`;
}

class BlockWriter {
  private readonly equations: MotionEquations;
  private readonly taken: Set<string>;
  private readonly fixed: Set<string>;
  /** Names of what occurs more than once, by the atom's key. */
  private readonly shared = new Map<string, { readonly name: string; readonly atom: Atom }>();
  private readonly order: readonly string[];
  private readonly writer: Writer;

  constructor(equations: MotionEquations) {
    const { coordinates, parameters, inputs } = equations.model;
    this.equations = equations;
    this.fixed = new Set([...parameters.map(({ name }) => name), 'pi']);
    this.order = orderOf(equations.model);
    this.writer = new Writer((name) => this.fixed.has(name), this.order);
    this.taken = new Set([
      ...this.fixed,
      ...inputs.map(({ name }) => name),
      ...coordinates.flatMap(({ name, speed }) => [name, speed]),
    ]);
  }

  /** A name nothing has yet. */
  private fresh(wanted: string): string {
    let name = wanted;
    for (let i = 2; this.taken.has(name); i++) name = `${wanted}_${i}`;
    this.taken.add(name);
    return name;
  }

  text({ purpose, source }: BlockWords): string {
    const { model, mass } = this.equations;
    const { coordinates } = model;
    const driven = drivenBy(this.equations);
    this.share([...mass.flatMap((row, i) => row.slice(i)), ...driven]);

    const energies = `T = ${printExpression(model.kinetic)}, V = ${printExpression(model.potential)}`;
    const told = source ?? `Lagrange's equations, derived from the energies ${shorten(energies)}.`;
    const about = purpose ?? `Moves as its energies say: ${coordinates.map(({ name }) => name).join(', ')}.`;
    const lines = [`block ${model.name}`, `  ${quote(about)}`, `  source ${quote(told)}`, '  side plant'];
    for (const { name, unit, words } of model.inputs) lines.push(`in ${typed(name, unit)} = 0${ending(words)}`);
    for (const { name, unit, words } of coordinates) lines.push(`out ${typed(name, unit)}${ending(words)}`);
    for (const { speed, unit } of coordinates) lines.push(`out ${typed(speed, perSecond(unit))}`);
    for (const { name, unit, value, above, words } of model.parameters) {
      const bound = above === undefined ? '' : ` above ${above}`;
      lines.push(`set ${typed(name, unit)} = ${printExpression(value)}${bound}${ending(words)}`);
    }
    const states = coordinates.map(({ name, speed, unit, start, startSpeed }, i) => {
      const rate = perSecond(unit);
      const made = [
        { name, unit, start, state: this.fresh(`q${i + 1}`), setting: this.fresh(`${name}_start`) },
        {
          name: speed,
          unit: rate,
          start: startSpeed,
          state: this.fresh(`v${i + 1}`),
          setting: this.fresh(`${speed}_start`),
        },
      ];
      for (const each of made) lines.push(`set ${typed(each.setting, each.unit)} = ${printExpression(each.start)}`);
      return made;
    });
    for (const each of states.flat()) lines.push(`state ${typed(each.state, each.unit)} = ${each.setting}`);
    for (const each of states.flat()) lines.push(`${each.name} = ${each.state}`);
    for (const { name, atom } of this.shared.values())
      lines.push(`${name} = ${this.print(atom.kind === 'sum' ? atom.of : single(atom), atom.key)}`);
    lines.push('# Masses, and what is left for the accelerations:');
    lines.push(
      ...this.accelerations(
        driven,
        states.map(([, { state } = { state: '' }]) => state),
      ),
    );
    for (const [q, v] of states) lines.push(`d/dt ${q?.state} = ${v?.state}`);
    return `${lines.join('\n')}\n`;
  }

  /** Names functions and divisors that occur more than once. */
  private share(sums: readonly Sum[]): void {
    const seen = new Map<string, { readonly count: number; readonly atom: Atom }>();
    const visit = (sum: Sum): void => {
      for (const terms of this.writer.collected(sum)) {
        const atoms = new Map(
          terms.flatMap(({ factors }) => [...factors].map(([key, { atom }]) => [key, atom] as const)),
        );
        for (const [key, atom] of atoms) {
          if (atom.kind !== 'call' && atom.kind !== 'sum') continue;
          const count = (seen.get(key)?.count ?? 0) + 1;
          seen.set(key, { count, atom });
          if (count === 1) for (const inner of atom.kind === 'sum' ? [atom.of] : atom.args) visit(inner);
        }
      }
    };
    for (const sum of sums) visit(sum);
    for (const [key, { count, atom }] of seen) {
      if (count < 2) continue;
      const names = namesOfAtom(atom);
      const about = this.order.filter((name) => names.has(name)).join('_');
      const name = this.fresh(
        atom.kind === 'call' ? [atom.func, about].filter((part) => part !== '').join('_') : 'divisor',
      );
      this.shared.set(key, { name, atom });
      if ([...names].every((each) => this.fixed.has(each))) this.fixed.add(name);
    }
  }

  /** A sum as text, by the shared names but for the one that is being said what it is. */
  private print(sum: Sum, but?: string): string {
    const instead = ({ key }: Atom): Sum | undefined => {
      const shared = key === but ? undefined : this.shared.get(key);
      return shared === undefined ? undefined : named(shared.name);
    };
    return printExpression(this.writer.expression(replaced(sum, instead)));
  }

  /** Coordinates that share no entry of the mass matrix are solved apart. */
  private accelerations(driven: readonly Sum[], speeds: readonly string[]): string[] {
    const { mass, model } = this.equations;
    const lines: string[] = [];
    const entries = new Map<string, string>();
    const numbered = (letter: string, ...indices: number[]): string =>
      this.fresh(`${letter}${indices.map((index) => index + 1).join('')}`);
    const equation = (name: string, sum: Sum): string => {
      lines.push(`${name} = ${this.print(sum)}`);
      return name;
    };
    const entry = (i: number, j: number): string => {
      const [low, high] = i < j ? [i, j] : [j, i];
      const sum = mass[low]?.[high] ?? zero;
      if (sum.size === 0) return '0';
      const key = `${low},${high}`;
      const name = entries.get(key) ?? equation(numbered('m', low, high), sum);
      entries.set(key, name);
      return name;
    };
    for (const part of parts(mass)) {
      const isDriven = (i: number): boolean => (driven[i]?.size ?? 0) > 0;
      if (!part.some(isDriven)) {
        for (const i of part) lines.push(`d/dt ${speeds[i]} = 0`);
        continue;
      }
      const matrix = part.map((i) => part.map((j) => entry(i, j)));
      const right = part.map((i) => (isDriven(i) ? equation(numbered('f', i), driven[i] ?? zero) : '0'));
      if (part.length === 1) {
        lines.push(`d/dt ${speeds[part[0] ?? 0]} = ${right[0]} / ${matrix[0]?.[0]}`);
        continue;
      }
      const isAlike = new Set(part.map((i) => model.coordinates[i]?.unit)).size === 1;
      const bare = (name: string): string => (isAlike || name === '0' ? name : `bare(${name})`);
      const rows = matrix.map((row) => row.map(bare).join(', ')).join('; ');
      const solution = this.fresh('acceleration');
      lines.push(`${solution} = solve([${rows}], [${right.map(bare).join(', ')}])`);
      for (const [k, i] of part.entries()) lines.push(`d/dt ${speeds[i]} = ${solution}[${k + 1}]`);
    }
    return lines;
  }
}

/** Indices of coordinates that a mass matrix ties together, each group in order. */
function parts(mass: readonly (readonly Sum[])[]): number[][] {
  const left = new Set(mass.keys());
  const found: number[][] = [];
  for (const first of mass.keys()) {
    if (!left.delete(first)) continue;
    const part = [first];
    for (const i of part) for (const j of [...left]) if ((mass[i]?.[j]?.size ?? 0) > 0 && left.delete(j)) part.push(j);
    found.push(part.sort((a, b) => a - b));
  }
  return found;
}

const shorten = (text: string): string => (text.length <= 300 ? text : `${text.slice(0, 297)}…`);
