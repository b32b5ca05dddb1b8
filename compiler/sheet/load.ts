/** Turns the text of a sheet's file into a sheet, or into findings that say where the file is wrong. */

import { type Finding, type Found, nearestNames } from '../findings.ts';
import { type JsonNode, lineAndColumn, placeOf, readJson } from './json_places.ts';
import { migrate, type RawSheet } from './migrate.ts';
import { readSheet } from './read.ts';
import { MAX_BLOCKS, MAX_WIRES } from './schema.ts';
import { SHEET_VERSION, type Sheet } from './sheet.ts';

/** The longest file that is read, in UTF-16 units; a sheet of 2,000 blocks has about a fifth of it. */
export const MAX_SHEET_LENGTH = 4_000_000;

/** A line that only a version control system writes: no JSON line starts like this. */
const CONFLICT = /^(?:<{7}|\|{7}|={7}|>{7})(?=[\s]|$)/m;

type Facts = Readonly<Record<string, string>>;

/**
 * Reads a sheet. Never throws, whatever the text. What the file leaves out is filled in; a file of an older version is
 * migrated. Places carry line and column in the file.
 */
export function loadSheet(text: string): Found<Sheet> {
  if (text.length > MAX_SHEET_LENGTH) {
    const facts = { size: millions(text.length), limit: millions(MAX_SHEET_LENGTH) };
    return refused([{ id: 'sheet_too_large', level: 'error', at: { path: '' }, facts }]);
  }
  const at = (start: number, path: readonly string[]) => ({ path: path.join('.'), ...lineAndColumn(text, start) });
  const error = (id: string, start: number, path: readonly string[], facts: Facts): Finding => ({
    id,
    level: 'error',
    at: at(start, path),
    facts,
  });

  if (text.trim() === '') return refused([error('sheet_empty', 0, [], {})]);
  const conflict = CONFLICT.exec(text);
  if (conflict !== null) return refused([error('sheet_conflict', conflict.index, [], { mark: conflict[0] })]);

  const { root, faults } = readJson(text);
  const findings = faults.map((fault) => error(fault.id, fault.start, fault.path, fault.facts));
  if (root === undefined) return refused(findings);

  const version = versionOf(root);
  if (typeof version !== 'number') return refused([...findings, error(version.id, root.start, [], version.facts)]);
  if (version > SHEET_VERSION) {
    const facts = { version: String(version), known: String(SHEET_VERSION) };
    return refused([...findings, error('sheet_newer', placeOf(root, ['loopwright']), ['loopwright'], facts)]);
  }

  const raw = migrate(root.value as RawSheet, version);
  const { value, faults: wrong } = readSheet(raw);
  for (const fault of wrong) {
    const finding = error(fault.id, placeOf(root, fault.place), fault.place, fault.facts);
    findings.push(fault.repair === undefined ? finding : { ...finding, repair: fault.repair });
  }
  if (value === undefined || findings.length > 0) return refused(findings);
  const many = tooMany(value);
  return many === undefined ? { value, findings } : refused([error('sheet_too_many', root.start, [], many)]);
}

function refused(findings: readonly Finding[]): Found<Sheet> {
  return { value: undefined, findings };
}

/** The file's version, or why it is none. */
function versionOf(root: JsonNode): number | { id: string; facts: Facts } {
  const value = root.value;
  if (typeof value !== 'object' || value === null || Array.isArray(value)) return { id: 'sheet_not_record', facts: {} };
  const version = root.members?.get('loopwright')?.node.value;
  if (version === undefined) {
    const near = nearestNames('loopwright', root.members?.keys() ?? [])[0] ?? '';
    return { id: 'sheet_no_version', facts: { near } };
  }
  if (typeof version !== 'number' || !Number.isInteger(version) || version < 1) {
    return { id: 'sheet_bad_version', facts: { version: JSON.stringify(version).slice(0, 40) } };
  }
  return version;
}

function tooMany(sheet: Sheet): Facts | undefined {
  const groups = Object.values(sheet.shelf).filter((thing) => typeof thing !== 'string');
  const count = (of: 'blocks' | 'wires') =>
    [sheet, ...groups].reduce((sum, holder) => sum + Object.keys(holder[of]).length, 0);
  const blocks = count('blocks');
  if (blocks > MAX_BLOCKS) return { count: String(blocks), things: 'blocks', limit: String(MAX_BLOCKS) };
  const wires = count('wires');
  if (wires > MAX_WIRES) return { count: String(wires), things: 'wires', limit: String(MAX_WIRES) };
  return undefined;
}

function millions(length: number): string {
  return (length / 1e6).toFixed(1);
}
