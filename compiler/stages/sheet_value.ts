/** What a setting on the sheet comes to: numbers with a unit, from a number, an expression in `names`, or an array. */

import { HostGraph } from '../language/host_value.ts';
import { parseExpression } from '../language/parser.ts';
import type { Expression } from '../language/syntax.ts';
import { type Inferred, UnitInference, UnitSolver } from '../language/unit_check.ts';
import { namesIn, standsOn } from '../language/walk.ts';
import { entry, type SettingValue, type Sheet } from '../sheet/sheet.ts';
import { Allowance } from './allowance.ts';
import { lowerExpression } from './expression.ts';
import type { Quantity, Scope } from './quantity.ts';

/** A matrix of plain numbers with its unit; a bare one has no unit and takes what fits. */
export interface SheetValue {
  readonly kind: Quantity['kind'];
  readonly rows: number;
  readonly columns: number;
  readonly numbers: readonly number[];
  readonly word: string | undefined;
  readonly unit: Inferred;
}

/** Why a value could not be had: a finding's id and facts. */
export interface Trouble {
  readonly id: string;
  readonly facts: Readonly<Record<string, string>>;
}

const ARRAY_LIMIT = 4096;

/** Reads the values of one sheet: its `names` are evaluated once, when first needed. */
export class SheetValues {
  private readonly graph = new HostGraph();
  private readonly allowance = new Allowance();
  private readonly names = new Map<string, SheetValue | Trouble>();
  private readonly texts = new Map<string, SheetValue | Trouble>();
  private readonly parsed = new Map<string, ReturnType<typeof parseExpression>>();
  private readonly busy = new Set<string>();
  private readonly sheet: Sheet;
  private readonly tick: number;
  private readonly nonFinite: boolean;

  constructor(sheet: Sheet, nonFinite = false) {
    this.sheet = sheet;
    this.nonFinite = nonFinite;
    this.tick = this.seconds(sheet.tick) ?? Number.NaN;
  }

  /** A duration or other quantity as a plain SI number; undefined when it is not a finite scalar. */
  seconds(value: SettingValue): number | undefined {
    const result = this.read(value);
    if ('id' in result || result.numbers.length !== 1) return undefined;
    const [number] = result.numbers;
    return number !== undefined && Number.isFinite(number) ? number : undefined;
  }

  /** Reads a setting; `words` are those a build setting knows. */
  read(value: SettingValue, words: readonly string[] = []): SheetValue | Trouble {
    if (typeof value === 'number')
      return Number.isFinite(value)
        ? plain('literal', value)
        : { id: 'not_finite', facts: { operation: String(value) } };
    if (typeof value === 'boolean') return plain('bool', value ? 1 : 0);
    if (typeof value === 'string') {
      if (words.includes(value)) return { ...plain('word', 0), numbers: [], word: value };
      return this.text(value);
    }
    return this.array(value);
  }

  /** The same text on the same sheet is read once; while a name is on its way, it may yet be part of a circle. */
  private text(value: string): SheetValue | Trouble {
    const known = this.texts.get(value);
    if (known !== undefined) return known;
    const parsed = this.parse(value);
    const [finding] = parsed.findings;
    const read =
      parsed.value === undefined
        ? {
            id: 'unreadable_value',
            facts: { value, ...(finding === undefined ? {} : { reason: finding.id }), ...finding?.facts },
          }
        : this.evaluate(parsed.value, value);
    if (this.busy.size === 0) this.texts.set(value, read);
    return read;
  }

  private parse(text: string): ReturnType<typeof parseExpression> {
    const known = this.parsed.get(text);
    if (known !== undefined) return known;
    const parsed = parseExpression(text);
    this.parsed.set(text, parsed);
    return parsed;
  }

  private array(value: readonly SettingValue[]): SheetValue | Trouble {
    const rows: SheetValue[] = [];
    if (value.length > ARRAY_LIMIT) return { id: 'too_large', facts: { limit: String(ARRAY_LIMIT) } };
    for (const item of value) {
      const row = this.read(item);
      if ('id' in row) return row;
      rows.push(row);
    }
    const columns = rows[0]?.numbers.length ?? 0;
    if (rows.some((row) => row.numbers.length !== columns || row.kind === 'word'))
      return { id: 'ragged_matrix', facts: {} };
    const numbers = rows.flatMap((row) => row.numbers);
    const kind = rows.some((row) => row.kind === 'real') ? 'real' : (rows[0]?.kind ?? 'literal');
    const unit = rows.map((row) => row.unit).find((u) => u !== undefined);
    return { kind, rows: rows.length, columns: Math.max(1, columns), numbers, word: undefined, unit };
  }

  /** Evaluates an expression whose names are the sheet's. */
  evaluate(expression: Expression, text: string): SheetValue | Trouble {
    let trouble: Trouble | undefined;
    const scope: Scope = {
      graph: this.graph,
      allowance: this.allowance.of(text),
      runTime: undefined,
      tick: this.tick,
      period: this.tick,
      list: () => undefined,
      nonFinite: this.nonFinite,
      name: (name) => {
        const value = this.named(name);
        if ('id' in value) {
          trouble ??= { id: value.id, facts: { ...value.facts, value: text } };
          return undefined;
        }
        return {
          kind: value.kind,
          rows: value.rows,
          columns: value.columns,
          items: value.numbers.map((number) => ({ host: this.graph.constant(number) })),
        };
      },
      report: (id, facts) => {
        trouble ??= { id, facts: { ...facts, value: text } };
      },
    };
    const quantity = lowerExpression(expression, scope);
    if (quantity === undefined || trouble !== undefined)
      return trouble ?? { id: 'unreadable_value', facts: { value: text } };
    const solver = new UnitSolver();
    const inference = new UnitInference({ unit: (name) => this.unitOf(name), list: () => undefined }, solver);
    const unit = inference.infer(expression);
    if (inference.conflicts.length > 0) return { id: 'units_disagree', facts: { value: text } };
    const numbers = quantity.items.map((item) => item.host?.value ?? Number.NaN);
    return { kind: quantity.kind, rows: quantity.rows, columns: quantity.columns, numbers, word: quantity.word, unit };
  }

  private unitOf(name: string): Inferred {
    const value = this.named(name);
    return 'id' in value ? undefined : value.unit;
  }

  private named(name: string): SheetValue | Trouble {
    const known = this.names.get(name);
    if (known !== undefined) return known;
    if (entry(this.sheet.names, name) === undefined) return { id: 'unknown_name', facts: { name } };
    if (this.busy.has(name)) return { id: 'circular_name', facts: { name } };
    for (const other of standsOn(name, (one) => this.openNames(entry(this.sheet.names, one)))) {
      const text = entry(this.sheet.names, other);
      if (text === undefined || this.names.has(other) || this.busy.has(other)) continue;
      this.busy.add(other);
      this.names.set(other, this.read(text));
      this.busy.delete(other);
    }
    return this.names.get(name) ?? { id: 'circular_name', facts: { name } };
  }

  /** Names of the sheet that a value reads and that are still to be evaluated. */
  private openNames(value: SettingValue | undefined): string[] {
    if (Array.isArray(value)) return value.flatMap((item) => this.openNames(item));
    if (typeof value !== 'string') return [];
    return namesIn(this.parse(value).value).filter(
      (name) => !this.names.has(name) && entry(this.sheet.names, name) !== undefined,
    );
  }
}

function plain(kind: SheetValue['kind'], number: number): SheetValue {
  return { kind, rows: 1, columns: 1, numbers: [number], word: undefined, unit: undefined };
}
