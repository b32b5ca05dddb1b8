/** Reads raw data as a sheet by the schema, a slice at a time, so that a file full of faults is answered quickly. */

import type { RawSheet } from './migrate.ts';
import { sheetSchema } from './schema.ts';
import { MAX_FAULTS, type SchemaFault, schemaFaults } from './schema_faults.ts';
import { entry, type Sheet } from './sheet.ts';

type Raw = Readonly<Record<string, unknown>>;

/** About how many values are read before looking whether enough is wrong. */
const SLICE = 5_000;

/** The sheet, or what is wrong with it, at most fifty faults. */
export function readSheet(raw: RawSheet): { value: Sheet | undefined; faults: readonly SchemaFault[] } {
  const faults: SchemaFault[] = [];
  const read = (slice: Raw, shown: (fault: SchemaFault) => boolean): Sheet | undefined => {
    const result = sheetSchema.safeParse(slice);
    if (result.success) return result.data;
    faults.push(...schemaFaults(result.error, slice).filter(shown));
    return undefined;
  };

  const head: Record<string, unknown> = {};
  for (const [key, value] of Object.entries(raw)) head[key] = isRecord(value) && key !== 'desk' ? {} : value;
  let sheet = read(head, () => true);
  for (const key of Object.keys(raw)) {
    const whole = raw[key];
    if (key === 'desk' || !isRecord(whole) || !Object.hasOwn(sheetSchema.shape, key)) continue;
    const parts: unknown[] = [];
    for (const slice of slices(whole)) {
      if (faults.length >= MAX_FAULTS) return { value: undefined, faults: faults.slice(0, MAX_FAULTS) };
      const part = read({ loopwright: 1, tick: 1, [key]: slice }, (fault) => fault.place[0] === key);
      parts.push(entry<unknown>((part ?? {}) as Raw, key));
    }
    if (sheet !== undefined) sheet = { ...sheet, [key]: Object.assign({}, ...parts) };
  }
  return { value: faults.length === 0 ? sheet : undefined, faults: faults.slice(0, MAX_FAULTS) };
}

/** A record in parts of about `SLICE` values each. */
function* slices(whole: Raw): Generator<Raw> {
  let slice: Record<string, unknown> = {};
  let size = 0;
  for (const [key, value] of Object.entries(whole)) {
    slice[key] = value;
    size += sizeOf(value);
    if (size < SLICE) continue;
    yield slice;
    slice = {};
    size = 0;
  }
  yield slice;
}

function sizeOf(value: unknown): number {
  if (typeof value !== 'object' || value === null) return 1;
  let size = 1;
  for (const inner of Object.values(value)) size += sizeOf(inner);
  return size;
}

function isRecord(value: unknown): value is Raw {
  return typeof value === 'object' && value !== null && !Array.isArray(value);
}
