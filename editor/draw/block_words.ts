/** The words of the block language for its editor: what is coloured how, and what may be offered while one types. */
import { reservedNames } from '../../compiler/language/expression.ts';

/** Words that begin a statement, each with what it says. */
export const STATEMENTS: Readonly<Record<string, string>> = {
  block: 'the name',
  source: 'where the equations come from',
  called: 'a friendlier label',
  in: 'an input',
  inputs: 'open-ended inputs, named on the sheet',
  out: 'an output',
  outputs: 'an output for each word of a build setting',
  set: 'a setting, adjusted while running',
  build: 'a build setting: changing it recompiles',
  let: 'computed once from settings and dt',
  mem: 'memory with its start value',
  next: 'what a memory becomes',
  line: 'a delay line',
  state: 'continuous state with its start value',
  mode: 'named modes, the first one at the start',
  from: 'a transition between modes',
  say: 'why it is as it is, for the screen',
  law: 'how the card says it',
  needs: 'what must hold of its settings',
  guards: 'it keeps what follows it safe',
  harmless: 'what it drives can hurt nobody',
  analysed: 'the mode that linear analysis takes for granted',
  side: 'where it stands',
  drawn: 'how the card is drawn',
  channel: 'a field of the C',
  example: 'numbers that run as a test',
};

/** Words inside statements. */
export const INNER: readonly string[] = [
  ...'above below to as left length when every about for gives and or not is if plant controller circle curve bool int real text texts each'.split(
    ' ',
  ),
];

export const FUNCTIONS: readonly string[] =
  'sin cos tan asin acos atan atan2 exp log sqrt abs pow hypot floor ceil trunc round min max sign finite wrap solve transpose identity zeros bare sum product all any count fold matrix_exp ticks periods normal'.split(
    ' ',
  );

export const KNOWN_NAMES: readonly string[] = [...reservedNames].filter(
  (name) => !INNER.includes(name) && name !== 'in',
);

/** A new block of one's own, to be written on. */
export function blankText(name: string): string {
  return `block ${name}\n  "What it is for, in one sentence."\nin u: U\nout y: U\nset gain = 1\n\ny = gain * u\n\nexample gain 2: u 3 gives y 6\n`;
}

/** A text under another name. */
export function renamedText(text: string, name: string): string {
  return text.replace(/^(\s*block\s+)[A-Za-z][A-Za-z0-9_]*/m, `$1${name}`);
}
