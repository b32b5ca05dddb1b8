/** What the checker has to say: facts with a place; the words are made in `wording.ts`. */

export type Level = 'error' | 'warning' | 'advice';

/** Where a finding is: a place on the sheet, in a block's text, or both. */
export interface Place {
  /** Dotted path of a block, with its port or setting if one is meant: `balance.tilt.angle`; empty for the sheet. */
  readonly path: string;
  /** The block text meant, by its name on the shelf. */
  readonly text?: string;
  /** 1-based line and column in that text, or in the sheet's file. */
  readonly line?: number;
  readonly column?: number;
}

/** One change to the sheet as data: puts `value` at a path of keys, or removes what is there when it has no value. */
export interface Edit {
  readonly path: readonly string[];
  readonly value?: unknown;
}

/** What would mend it: a label that says what the click does, and the edits. */
export interface Repair {
  readonly label: string;
  readonly edits: readonly Edit[];
}

/** Another place that has to do with a finding, and what it is to it. */
export interface Note {
  readonly at: Place;
  readonly text: string;
}

export interface Finding {
  /** Stable, `words_with_underscores`; the key into `wording.ts`. */
  readonly id: string;
  readonly level: Level;
  readonly at: Place;
  /** What the sentence needs to know. */
  readonly facts: Readonly<Record<string, string>>;
  readonly notes?: readonly Note[];
  readonly repair?: Repair;
  /** Another way out, where there are two. */
  readonly otherwise?: Repair;
}

/** A product with what was found on the way; `value` is undefined when nothing could be made. */
export interface Found<T> {
  readonly value: T | undefined;
  readonly findings: readonly Finding[];
}

/** A place as people write it: `outer.gain`, or `block low_pass, line 3, column 7`. */
export function placeText(at: Place): string {
  const line = at.line === undefined ? '' : `line ${at.line}${at.column === undefined ? '' : `, column ${at.column}`}`;
  const text = at.text === undefined ? '' : `block ${at.text}`;
  return [at.path, text, line].filter((part) => part !== '').join(', ') || 'sheet';
}

/** The names closest to one that was not found, best first, at most three. */
export function nearestNames(wanted: string, known: Iterable<string>): string[] {
  const limit = Math.max(2, Math.ceil(wanted.length / 3));
  const ranked: { name: string; distance: number }[] = [];
  for (const name of known) {
    const holds = wanted.length > 2 && name.includes(wanted);
    if (!holds && Math.abs(wanted.length - name.length) > limit) continue;
    const distance = editDistance(wanted.toLowerCase(), name.toLowerCase());
    if (holds || distance <= limit) ranked.push({ name, distance });
  }
  ranked.sort((a, b) => a.distance - b.distance || (a.name < b.name ? -1 : 1));
  return ranked.slice(0, 3).map((entry) => entry.name);
}

/** Levenshtein distance. */
function editDistance(a: string, b: string): number {
  let row = Array.from({ length: b.length + 1 }, (_, j) => j);
  for (let i = 1; i <= a.length; i++) {
    const next = [i];
    for (let j = 1; j <= b.length; j++) {
      const swap = (row[j - 1] ?? 0) + (a[i - 1] === b[j - 1] ? 0 : 1);
      next.push(Math.min(swap, (row[j] ?? 0) + 1, (next[j - 1] ?? 0) + 1));
    }
    row = next;
  }
  return row[b.length] ?? 0;
}
