/** Lines of C, each with the block it says. */

export interface CLine {
  readonly text: string;
  /** Path of the block; undefined for what belongs to none. */
  readonly block?: string | undefined;
}

/** One file of an export: flat, by its name. */
export interface CFile {
  readonly name: string;
  readonly text: string;
  /** For each line of the text, the path of the block it says, if it says one. */
  readonly lines: readonly (string | undefined)[];
}

export function cFile(name: string, lines: readonly CLine[]): CFile {
  return { name, text: `${lines.map((line) => line.text).join('\n')}\n`, lines: lines.map((line) => line.block) };
}

/** Text as lines of no block. */
export function plain(text: string): CLine[] {
  return text.split('\n').map((line) => ({ text: line }));
}

/** Words that may stand in a C comment. */
export function inComment(text: string): string {
  return text
    .replace(/\*\//g, '* /')
    .replace(/\/\*/g, '/ *')
    .replace(/\?\?/g, '? ?')
    .replace(/\s+/g, ' ')
    .replace(/\\$/, '')
    .trim();
}

/** A comment, wrapped at a readable width; the indent is that of the code. */
export function comment(text: string, indent = ''): string[] {
  const width = 100 - indent.length;
  const rows: string[] = [];
  for (const paragraph of text.split('\n')) {
    let row = '';
    for (const word of inComment(paragraph).split(' ')) {
      if (row !== '' && row.length + 1 + word.length > width - 6) {
        rows.push(row);
        row = word;
      } else row = row === '' ? word : `${row} ${word}`;
    }
    rows.push(row);
  }
  if (rows.length === 1) return [`${indent}/* ${rows[0]} */`];
  return [`${indent}/*`, ...rows.map((row) => `${indent} * ${row}`.trimEnd()), `${indent} */`];
}
