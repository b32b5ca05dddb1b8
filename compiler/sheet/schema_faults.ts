/** Turns what the schema found into facts: which key, what was wanted, what stands there, and what would mend it. */

import type { z } from 'zod';
import { nearestNames, type Repair } from '../findings.ts';

export interface SchemaFault {
  readonly id: 'unknown_key' | 'missing_key' | 'bad_name' | 'reserved_name' | 'wrong_value';
  /** Keys from the root to the thing meant. */
  readonly place: Path;
  readonly facts: Readonly<Record<string, string>>;
  readonly repair?: Repair;
}

type Path = readonly string[];
type Issue = z.core.$ZodIssue;

/** Enough to work with; a file with more is wrong as a whole. */
export const MAX_FAULTS = 50;

/** What is wrong, at most fifty faults, one a place. */
export function schemaFaults(error: z.ZodError, raw: unknown): SchemaFault[] {
  const faults = new Map<string, SchemaFault>();
  for (const issue of error.issues) {
    for (const fault of faultsOf(issue, [], raw)) {
      const key = JSON.stringify([fault.place, fault.id === 'missing_key' ? fault.facts.key : '']);
      if (!faults.has(key)) faults.set(key, fault);
    }
    if (faults.size >= MAX_FAULTS) break;
  }
  return withoutMisspelt([...faults.values()]).slice(0, MAX_FAULTS);
}

/** A key that is missing because it is misspelt is said once, as misspelt. */
function withoutMisspelt(faults: readonly SchemaFault[]): SchemaFault[] {
  const meant = new Set(
    faults
      .filter((fault) => fault.id === 'unknown_key')
      .map((fault) => JSON.stringify([...fault.place.slice(0, -1), fault.facts.near])),
  );
  return faults.filter(
    (fault) => fault.id !== 'missing_key' || !meant.has(JSON.stringify([...fault.place, fault.facts.key])),
  );
}

function faultsOf(issue: Issue, above: Path, raw: unknown): SchemaFault[] {
  const place = [...above, ...issue.path.map(String)];
  const found = valueAt(raw, place);
  switch (issue.code) {
    case 'unrecognized_keys':
      return issue.keys.slice(0, MAX_FAULTS).map((key) => unknownKey(key, place, issue.message.split(' '), raw));
    case 'invalid_key':
      return [{ id: 'bad_name', place, facts: { name: shown(place.at(-1)), wanted: issue.issues[0]?.message ?? '' } }];
    case 'custom':
      return [{ id: 'reserved_name', place, facts: { name: shown(found) } }];
    case 'invalid_union':
      return unionFaults(issue, place, raw);
    default:
      if (found !== undefined)
        return [{ id: 'wrong_value', place, facts: { wanted: issue.message, found: shown(found) } }];
      return [
        { id: 'missing_key', place: place.slice(0, -1), facts: { key: place.at(-1) ?? '', wanted: issue.message } },
      ];
  }
}

/** Of several possible forms, the faults in the one that was most likely meant; else that none of them is there. */
function unionFaults(issue: z.core.$ZodIssueInvalidUnion, place: Path, raw: unknown): SchemaFault[] {
  let best: { faults: SchemaFault[]; cost: number } | undefined;
  for (const form of issue.errors) {
    if (!form.some((inner) => inner.path.length > 0 || inner.code === 'unrecognized_keys')) continue;
    const faults = form.flatMap((inner) => faultsOf(inner, place, raw));
    if (best === undefined || faults.length < best.cost) best = { faults, cost: faults.length };
  }
  if (best !== undefined) return best.faults;
  const found = valueAt(raw, place);
  if (found === undefined) {
    return [
      { id: 'missing_key', place: place.slice(0, -1), facts: { key: place.at(-1) ?? '', wanted: issue.message } },
    ];
  }
  return [{ id: 'wrong_value', place, facts: { wanted: issue.message, found: shown(found) } }];
}

function unknownKey(key: string, inside: Path, known: readonly string[], raw: unknown): SchemaFault {
  const holder = valueAt(raw, inside) as Readonly<Record<string, unknown>>;
  const near = nearestNames(key, known).find((name) => !Object.hasOwn(holder, name));
  const facts = { key: shown(key), known: known.join(', '), near: near ?? '' };
  const place = [...inside, key];
  const repair: Repair =
    near === undefined
      ? { label: `Remove ${key}`, edits: [{ path: place }] }
      : { label: `Call it ${near}`, edits: [{ path: [...inside, near], value: holder[key] }, { path: place }] };
  return { id: 'unknown_key', place, facts, repair };
}

function valueAt(raw: unknown, path: Path): unknown {
  let value = raw;
  for (const key of path) {
    if (typeof value !== 'object' || value === null || !Object.hasOwn(value, key)) return undefined;
    value = (value as Readonly<Record<string, unknown>>)[key];
  }
  return value;
}

/** A value in a few characters. */
function shown(value: unknown): string {
  if (typeof value === 'number') return String(value);
  const written = JSON.stringify(value) ?? 'nothing';
  return written.length > 60 ? `${written.slice(0, 57)}…` : written;
}
