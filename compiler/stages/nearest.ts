/** The names nearest to one that was not found, for as many findings as anyone would read. */

import { type Finding, nearestNames } from '../findings.ts';

/** Looking through all names for each of thousands of slips takes minutes. */
const FINDINGS_WITH_NAMES = 50;

export function nearestFew(wanted: string, known: () => Iterable<string>, findings: readonly Finding[]): string[] {
  return findings.length < FINDINGS_WITH_NAMES ? nearestNames(wanted, known()) : [];
}
