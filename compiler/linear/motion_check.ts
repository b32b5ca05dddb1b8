/** Reads a model's expressions and checks them before anything is derived: names, units, what may stand where. */

import { type Finding, nearestNames } from '../findings.ts';
import { reservedNames } from '../language/expression.ts';
import { parseExpression, parseUnit } from '../language/parser.ts';
import { printExpression } from '../language/print.ts';
import type { Expression, Spot } from '../language/syntax.ts';
import {
  declaredForm,
  type Inferred,
  ONE,
  timesPower,
  type UnitForm,
  UnitInference,
  UnitSolver,
} from '../language/unit_check.ts';
import { dimensionText, isUnitLetter, unitOf } from '../language/units.ts';
import { walk } from '../language/walk.ts';
import type { EnergyModel } from '../sheet/energy_model.ts';
import { smoothFunctions } from './motion_calculus.ts';

/** Most coordinates of a model: `solve` takes matrices up to 6×6. */
export const MOST_COORDINATES = 6;

export interface Coordinate {
  readonly name: string;
  readonly speed: string;
  readonly acceleration: string;
  /** As written. */
  readonly unit: string;
  readonly start: Expression;
  readonly startSpeed: Expression;
  readonly words: string | undefined;
}

export interface Parameter {
  readonly name: string;
  readonly unit: string;
  readonly value: Expression;
  readonly above: number | undefined;
  readonly words: string | undefined;
}

export interface Input {
  readonly name: string;
  readonly unit: string;
  readonly words: string | undefined;
}

/** A model whose texts are read. */
export interface ReadModel {
  readonly name: string;
  readonly coordinates: readonly Coordinate[];
  readonly parameters: readonly Parameter[];
  readonly inputs: readonly Input[];
  readonly kinetic: Expression;
  readonly potential: Expression;
  readonly dissipation: Expression | undefined;
  /** What acts on coordinates, by the coordinate's index. */
  readonly forces: readonly { readonly on: number; readonly value: Expression; readonly path: string }[];
}

/** What a generalised force may use besides, for it is never differentiated. */
const otherFunctions: ReadonlySet<string> = new Set(['sign', 'min', 'max', 'atan2', 'floor', 'ceil', 'trunc', 'round']);
const pairs: ReadonlySet<string> = new Set(['pow', 'hypot', 'atan2']);
const scalars: ReadonlySet<Expression['kind']> = new Set(['number', 'name', 'unary', 'binary', 'choose', 'call']);

const start: Spot = { line: 1, column: 1 };
const joule = formOf('J');
const watt = formOf('W');
const second = formOf('s');

function formOf(text: string): UnitForm {
  const { value } = parseUnit(text);
  const form = declaredForm(value);
  if (form === undefined) throw new Error(`${text} is no unit`);
  return form;
}

export const speedOf = (coordinate: EnergyModel['coordinates'][number]): string =>
  coordinate.speed ?? `${coordinate.name}_rate`;

/** The model with its texts read; undefined when there is an error among the findings. */
export function readModel(model: EnergyModel, findings: Finding[]): ReadModel | undefined {
  return new ModelReader(model, findings).read();
}

class ModelReader {
  private readonly model: EnergyModel;
  private readonly findings: Finding[];
  /** Units of all names. */
  private readonly units = new Map<string, Inferred>();
  private readonly coordinates: ReadonlySet<string>;
  private readonly speeds: ReadonlySet<string>;
  private readonly parameters: ReadonlySet<string>;
  private readonly inputs: ReadonlySet<string>;

  constructor(model: EnergyModel, findings: Finding[]) {
    this.model = model;
    this.findings = findings;
    this.coordinates = new Set(model.coordinates.map(({ name }) => name));
    this.speeds = new Set(model.coordinates.map(speedOf));
    this.parameters = new Set(model.parameters.map(({ name }) => name));
    this.inputs = new Set(model.forces.map(({ name }) => name));
  }

  read(): ReadModel | undefined {
    const { model } = this;
    const count = model.coordinates.length;
    if (count === 0 || count > MOST_COORDINATES)
      this.report('motion_coordinate_count', 'coordinates', { count: String(count), most: String(MOST_COORDINATES) });
    this.declare();
    if (this.failed) return undefined;

    const fixed = [this.parameters];
    const positions = [...fixed, this.coordinates];
    const motion = [...positions, this.speeds];
    const parameters = model.parameters.map((each, i): Parameter => {
      const value = this.quantity(each.value, `parameters.${i}.value`, fixed, this.unit(each.name));
      return { name: each.name, unit: each.unit, value, above: each.above, words: each.words };
    });
    const coordinates = model.coordinates.map((each, i): Coordinate => {
      const { name, unit, words } = each;
      const speed = speedOf(each);
      const path = `coordinates.${i}`;
      return {
        name,
        speed,
        acceleration: this.unusedName(`${speed}_rate`),
        unit,
        start: this.quantity(each.start ?? 0, `${path}.start`, fixed, this.unit(name)),
        startSpeed: this.quantity(each.start_speed ?? 0, `${path}.start_speed`, fixed, this.unit(speed)),
        words,
      };
    });
    const kinetic = this.expression(model.kinetic, 'kinetic', motion, joule, 'J');
    const potential = this.expression(model.potential, 'potential', positions, joule, 'J');
    const dissipation =
      model.dissipation === undefined
        ? undefined
        : this.expression(model.dissipation, 'dissipation', motion, watt, 'W');
    const forces = model.forces.map((each, i) => {
      const path = `forces.${i}`;
      const wanted = this.forceUnit(each.on);
      const value =
        each.as === undefined
          ? this.expression(each.name, `${path}.unit`, [this.inputs], wanted)
          : this.expression(each.as, `${path}.as`, [...motion, this.inputs], wanted);
      return { on: model.coordinates.findIndex(({ name }) => name === each.on), value, path };
    });
    if (this.failed || kinetic === undefined || potential === undefined) return undefined;
    const inputs = model.forces
      .filter((each, i) => model.forces.findIndex(({ name }) => name === each.name) === i)
      .map(({ name, unit, words }): Input => ({ name, unit, words }));
    return {
      name: model.name,
      coordinates,
      parameters,
      inputs,
      kinetic,
      potential,
      dissipation,
      forces: forces.flatMap(({ on, value, path }) => (value === undefined ? [] : [{ on, value, path }])),
    };
  }

  private get failed(): boolean {
    return this.findings.some(({ level }) => level === 'error');
  }

  private unusedName(wanted: string): string {
    return this.units.has(wanted) ? this.unusedName(`${wanted}_`) : wanted;
  }

  private report(id: string, path: string, facts: Readonly<Record<string, string>>, spot?: Spot): void {
    this.findings.push({ id, level: 'error', at: { path, ...spot }, facts });
  }

  private unit(name: string): Inferred {
    return this.units.get(name);
  }

  /** Names and their units; a name stands for one thing. */
  private declare(): void {
    const { model } = this;
    const add = (name: string, unit: string, path: string, isSpeed = false): void => {
      if (reservedNames.has(name)) this.report('reserved_name', path, { name });
      else if (this.units.has(name)) this.report('motion_name_taken', path, { name });
      const form = this.declaredUnit(unit, path);
      this.units.set(name, isSpeed ? timesPower(form ?? ONE, second, -1) : form);
    };
    if (reservedNames.has(model.name)) this.report('reserved_name', 'name', { name: model.name });
    for (const [i, { name, unit }] of model.parameters.entries()) add(name, unit, `parameters.${i}`);
    for (const [i, each] of model.coordinates.entries()) {
      add(each.name, each.unit, `coordinates.${i}`);
      add(speedOf(each), each.unit, `coordinates.${i}`, true);
    }
    for (const [i, { name, unit, on }] of model.forces.entries()) {
      const path = `forces.${i}`;
      const before = model.forces.find((other) => other.name === name);
      if (before === model.forces[i]) add(name, unit, path);
      else if (before !== undefined && before.unit !== unit)
        this.report('motion_force_units', path, { name, first: before.unit, other: unit });
      if (!this.coordinates.has(on))
        this.report('motion_force_on_nothing', `${path}.on`, {
          name: on,
          nearest: nearestNames(on, this.coordinates).join(', '),
        });
    }
  }

  /** The form of a unit as declared, which must be coherent SI without letters. */
  private declaredUnit(text: string, path: string): Inferred {
    if (text === '') return undefined;
    const { value, findings } = parseUnit(text);
    for (const finding of findings) this.findings.push({ ...finding, at: { ...finding.at, path: `${path}.unit` } });
    if (value === undefined || findings.length > 0) return undefined;
    const known = unitOf(value);
    if ('unknown' in known) return undefined;
    if (Object.keys(known.letters).length > 0 || known.factor !== 1)
      this.report('motion_unit_not_si', `${path}.unit`, { unit: text, meant: dimensionText(known.dimension) });
    return declaredForm(value);
  }

  /** A generalised force times its coordinate is an energy. */
  private forceUnit(on: string): Inferred {
    return timesPower(joule, this.unit(on) ?? ONE, -1);
  }

  private quantity(
    value: number | string,
    path: string,
    names: readonly ReadonlySet<string>[],
    unit: Inferred,
  ): Expression {
    const text = typeof value === 'number' ? String(value) : value;
    const zero: Expression = { kind: 'number', value: 0, unit: undefined, text: '0', at: start };
    return this.expression(text, path, names, unit) ?? zero;
  }

  /** Reads a text, and checks that it uses only these names and is of that unit. */
  private expression(
    text: string,
    path: string,
    names: readonly ReadonlySet<string>[],
    unit: Inferred,
    wanted?: string,
  ): Expression | undefined {
    const { value, findings } = parseExpression(text);
    for (const finding of findings) this.findings.push({ ...finding, at: { ...finding.at, path } });
    if (value === undefined || findings.length > 0) return undefined;
    const before = this.findings.length;
    walk(value, (inner) => {
      if (inner.kind === 'name') this.checkName(inner.name, path, names, inner.at);
      else this.checkForm(inner, path);
    });
    if (this.findings.length > before) return undefined;
    const inference = new UnitInference({ unit: (name) => this.unit(name), list: () => undefined }, new UnitSolver());
    inference.agree(unit, inference.infer(value), start);
    for (const { at, left, right } of inference.conflicts) {
      const isWhole = at === start;
      const first = isWhole && wanted !== undefined ? wanted : dimensionText(left.dimension);
      const facts = { left: first, right: dimensionText(right.dimension), what: isWhole ? 'whole' : 'part' };
      this.report('motion_unit_mismatch', path, facts, at);
    }
    return value;
  }

  private checkForm(e: Expression, path: string): void {
    if (!scalars.has(e.kind)) this.report('motion_not_smooth', path, { what: printExpression(e).slice(0, 60) }, e.at);
    if (e.kind === 'number' && e.unit !== undefined) {
      const letter = e.unit.factors.find(({ symbol }) => isUnitLetter(symbol));
      if (letter !== undefined) this.report('undeclared_unit_letter', path, { letter: letter.symbol }, e.at);
    }
    if (e.kind !== 'call') return;
    if (!smoothFunctions.has(e.name) && !otherFunctions.has(e.name)) {
      const nearest = nearestNames(e.name, [...smoothFunctions, ...otherFunctions]).join(', ');
      const known = [...smoothFunctions].join(', ');
      this.report('motion_unknown_name', path, { name: e.name, nearest, known }, e.at);
      return;
    }
    const isList = e.name === 'min' || e.name === 'max';
    const wanted = pairs.has(e.name) ? 2 : 1;
    if (isList ? e.args.length < 2 : e.args.length !== wanted)
      this.report('wrong_argument_count', path, { name: e.name, got: String(e.args.length) }, e.at);
  }

  private checkName(name: string, path: string, names: readonly ReadonlySet<string>[], at: Spot): void {
    if (names.some((known) => known.has(name)) || name === 'pi' || (name === 't' && names.length > 1)) return;
    if (this.inputs.has(name) && !names.includes(this.inputs))
      this.report('motion_force_in_energy', path, { name }, at);
    else if (this.speeds.has(name) && path === 'potential')
      this.report('motion_speed_in_potential', path, { name }, at);
    else if (this.units.has(name)) this.report('motion_not_fixed', path, { name }, at);
    else {
      const nearest = nearestNames(
        name,
        names.flatMap((known) => [...known]),
      );
      this.report('motion_unknown_name', path, { name, nearest: nearest.join(', ') }, at);
    }
  }
}
