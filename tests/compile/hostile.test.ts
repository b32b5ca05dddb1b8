/** Two thousand spoilt sheets and block texts: nothing throws, everything answers in time, whatever is opened. */

import { describe, expect, test } from 'vitest';
import { library } from '../../blocks/library.ts';
import { compile } from '../../compiler/compile.ts';
import { loadSheet } from '../../compiler/sheet/load.ts';
import { saveSheet } from '../../compiler/sheet/save.ts';
import { blankSheet, type Sheet } from '../../compiler/sheet/sheet.ts';
import { sentence } from '../../compiler/wording.ts';
import { openBench } from '../../runtime/bench/bench.ts';
import { randomSheet } from '../agree/random_sheet.ts';
import { Random } from '../agree/random_text.ts';
import { sample } from '../samples/sample.ts';

const SHEETS = 1_000;
const TEXTS = 1_000;
/** Processor seconds one answer may take; the machine may be busy with other things, so not the clock's. */
const PATIENCE = 2;

const odd = [
  '"__proto__"',
  '"constructor"',
  '{}',
  '[]',
  'null',
  '1e308',
  '-1',
  '4294967296',
  '"1/0"',
  '"0/0"',
  '"((((((((1))))))))"',
  '"9999999 h"',
  'true',
  '""',
  '"\\u0000"',
  '[[1],[2,3]]',
  '100000',
  '"unlimited"',
  '"a.b.c.d"',
];

const fragments = [
  '(',
  ')',
  '[',
  ']',
  '; ',
  ' for i to 99999',
  '^9^9',
  ' and ',
  'next ',
  'd/dt ',
  'mem ',
  'line z = 0 length 99999\n',
  'state ',
  ': [9999]',
  ': [n, m]',
  '"',
  '1e999',
  ' / 0',
  'Hz',
  'channel in ',
  'channel out ',
  'mode a, b\n',
  'from a to a when ',
  'example ',
  '\u0000',
  'é',
  '#',
  'inputs ',
  'outputs ',
  'build n: int = 99999999\n',
  'fold(a = 0; b in c; a)',
  'matrix_exp(',
  'solve(',
];

/** Spoils a text a few times: pieces cut out, doubled, changed places, or replaced by something odd. */
function spoil(text: string, r: Random, pieces: readonly string[]): string {
  let spoilt = text;
  for (let i = 0; i < 1 + r.below(4); i++) {
    const at = r.below(spoilt.length + 1);
    const length = r.below(24);
    const cut = spoilt.slice(at, at + length);
    const kind = r.below(5);
    if (kind === 0) spoilt = spoilt.slice(0, at) + spoilt.slice(at + length);
    else if (kind === 1) spoilt = spoilt.slice(0, at) + cut + spoilt.slice(at);
    else if (kind === 2) spoilt = spoilt.slice(0, at) + r.pick(pieces) + spoilt.slice(at);
    else if (kind === 3) spoilt = spoilt.slice(0, at) + r.pick(pieces) + spoilt.slice(at + length);
    else spoilt = spoilt.slice(at + length) + spoilt.slice(0, at);
  }
  return spoilt;
}

/** Replaces a random value of a record, so that it still reads as JSON. */
function spoilValue(text: string, r: Random): string {
  const values = [...text.matchAll(/: ("(?:[^"\\]|\\.)*"|-?[\d.e+-]+|true|false)/g)];
  const [match] = values.length === 0 ? [] : [r.pick(values)];
  if (match === undefined) return text;
  const at = (match.index ?? 0) + 2;
  const old = match[1] ?? '';
  const alike = odd.filter((value) => value.startsWith('"') === old.startsWith('"'));
  return text.slice(0, at) + r.pick(r.chance(0.8) ? alike : odd) + text.slice(at + old.length);
}

/** Opens, compiles and runs three ticks of whatever comes out; gives the processor time in seconds. */
async function answer(sheet: Sheet | undefined): Promise<number> {
  const before = process.cpuUsage();
  if (sheet !== undefined) {
    const { value, findings } = compile(sheet, { library });
    for (const finding of findings) expect(sentence(finding).full).not.toContain('undefined');
    if (value !== undefined) (await openBench(value, { engine: 'interpreter', record: [] }, [])).advance(3);
  }
  const { user, system } = process.cpuUsage(before);
  return (user + system) / 1e6;
}

/** Fails with what reproduces it. */
async function survives(seed: number, text: string, sheet: () => Sheet | undefined): Promise<boolean> {
  try {
    const opened = sheet();
    const seconds = await answer(opened);
    if (seconds > PATIENCE) expect.fail(`seed ${seed} took ${seconds} s:\n${text.slice(0, 4000)}`);
    return opened !== undefined;
  } catch (error) {
    throw new Error(`seed ${seed}: ${String(error)}\n${text.slice(0, 4000)}`, { cause: error });
  }
}

describe('hostile input', () => {
  const sheets = [
    sample('first_loop/first_loop.sheet.json'),
    sample('row_scout/row_scout.sheet.json'),
    ...Array.from({ length: 12 }, (_, i) => randomSheet(9_000 + i)),
  ].map(saveSheet);

  test('spoilt sheets', async () => {
    let opened = 0;
    for (let seed = 1; seed <= SHEETS; seed++) {
      const r = new Random(seed);
      const text = r.pick(sheets);
      const spoilt = r.chance(0.8) ? spoilValue(r.chance(0.5) ? text : spoilValue(text, r), r) : spoil(text, r, odd);
      if (await survives(seed, spoilt, () => loadSheet(spoilt).value)) opened++;
    }
    expect(opened).toBeGreaterThan(SHEETS / 10);
  }, 300_000);

  test('spoilt block texts', async () => {
    const texts = [...library.entries()];
    for (let seed = 1; seed <= TEXTS; seed++) {
      const r = new Random(seed + 50_000);
      const [name, { text }] = r.pick(texts);
      const spoilt = spoil(text, r, fragments);
      const sheet: Sheet = { ...blankSheet(), blocks: { it: { is: name } }, shelf: { [name]: spoilt } };
      await survives(seed, spoilt, () => sheet);
    }
  }, 300_000);

  test('a group a thousand deep, and one that doubles at every depth', async () => {
    const deep: Record<string, Sheet['shelf'][string]> = {};
    for (let i = 0; i < 1000; i++)
      deep[`g${i}`] = { ports: {}, blocks: { b: { is: i === 999 ? 'fixed' : `g${i + 1}` } }, wires: {}, layout: {} };
    await survives(0, 'deep', () => ({ ...blankSheet(), shelf: deep, blocks: { it: { is: 'g0' } } }));
    const wide: Record<string, Sheet['shelf'][string]> = {};
    for (let i = 0; i < 40; i++) {
      const is = i === 39 ? 'fixed' : `g${i + 1}`;
      wide[`g${i}`] = { ports: {}, blocks: { a: { is }, b: { is } }, wires: {}, layout: {} };
    }
    await survives(0, 'wide', () => ({ ...blankSheet(), shelf: wide, blocks: { it: { is: 'g0' } } }));
  }, 60_000);
});
