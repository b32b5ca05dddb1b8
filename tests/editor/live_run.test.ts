/** A run changed by hand is bit for bit what it was before the change, and what the command's run says after it; any tick of it can be had again. */
import { readFileSync } from 'node:fs';
import { beforeAll, describe, expect, test } from 'vitest';
import { library } from '../../blocks/library.ts';
import type { Finding } from '../../compiler/findings.ts';
import { loadSheet } from '../../compiler/sheet/load.ts';
import type { Nudge, Sheet } from '../../compiler/sheet/sheet.ts';
import { LiveRun } from '../../editor/work/live_run.ts';
import { runSheet } from '../../runtime/bench/run.ts';

const PORTS = ['table.angle', 'law.y', 'gate.mode', 'trend.y', 'torque.truth'];

let sheet: Sheet;

beforeAll(() => {
  const text = readFileSync(new URL('../browser/sheets/turntable.sheet.json', import.meta.url), 'utf8');
  const found = loadSheet(text).value;
  if (found === undefined) throw new Error('The sheet cannot be read.');
  sheet = found;
});

async function open(
  of: Sheet,
  nudged: readonly string[] = [],
  kept: readonly string[] = [],
  budget?: number,
): Promise<LiveRun> {
  const findings: Finding[] = [];
  const run = await LiveRun.open(
    { sheet: of, name: 'turntable', beside: {}, run: 'turn', kept },
    library,
    nudged,
    findings,
    budget,
  );
  if (run === undefined) throw new Error(JSON.stringify(findings));
  return run;
}

function to(run: LiveRun, tick: number): void {
  while (run.head < tick) run.advance(tick - run.head);
}

const now = () => Promise.resolve();

/** The rows of the command's run of the sheet with one more nudge, as lines of raw bits. */
async function commanded(nudge?: Nudge): Promise<string[]> {
  const turn = sheet.runs.turn;
  const nudges = nudge === undefined ? turn?.nudges : { ...turn?.nudges, by_hand: nudge };
  const changed = { ...sheet, runs: { ...sheet.runs, turn: { ...turn, ...(nudges === undefined ? {} : { nudges }) } } };
  const findings: Finding[] = [];
  const result = await runSheet(changed, { library, name: 'turntable', run: 'turn', record: PORTS }, findings);
  if (result === undefined) throw new Error(JSON.stringify(findings));
  const width = result.columns.length;
  const list = PORTS.map((port) => result.columns.findIndex((column) => column.name === port));
  return Array.from({ length: result.ticks }, (_, tick) =>
    Buffer.from(Float64Array.from(list, (i) => result.rows[tick * width + i] ?? Number.NaN).buffer).toString('hex'),
  );
}

/** The same of a live run, through any tick's row. */
async function lived(run: LiveRun, ticks: Iterable<number>): Promise<Map<number, string>> {
  const found = new Map<number, string>();
  for (const tick of ticks) {
    const row = await run.rowAt(tick);
    const numbers = PORTS.map((port) => row?.[run.watched(port)?.place.column ?? -1] ?? Number.NaN);
    found.set(tick, Buffer.from(Float64Array.from(numbers).buffer).toString('hex'));
  }
  return found;
}

const some = [0, 1, 255, 256, 257, 700, 416, 417, 418, 900, 1199, 3];

describe('a run that is changed', () => {
  test('by a setting: before the tick the unchanged run, from it on the command with that nudge', async () => {
    const run = await open(sheet);
    to(run, 417);
    expect(run.set('law.gain', '0.2 N m/rad', sheet)).toBe(true);
    to(run, 1200);
    expect(run.notches.map(({ nudge }) => nudge)).toEqual([{ at: '2.085 s', setting: 'law.gain', to: '0.2 N m/rad' }]);
    const plain = await commanded();
    const changed = await commanded({ at: '2.085 s', setting: 'law.gain', to: '0.2 N m/rad' });
    const rows = await lived(run, some);
    for (const [tick, row] of rows) expect(row).toBe(tick < 417 ? plain[tick] : changed[tick]);
    expect(changed[500]).not.toBe(plain[500]);
  });

  test('by a nudge on a port that had none: the same as that nudge in the run', async () => {
    const run = await open(sheet, ['error.got']);
    to(run, 700);
    expect(run.nudge({ port: 'error.got', add: '0.1 rad', for: '50 ms' })).toBe(true);
    to(run, 1200);
    const [notch] = run.notches;
    if (notch === undefined) throw new Error('Nothing was noted.');
    const changed = await commanded(notch.nudge);
    for (const [tick, row] of await lived(run, some)) expect(row).toBe(changed[tick]);
    expect(changed[705]).not.toBe((await commanded())[705]);
  });

  test('and gone through again, or opened anew with what was done: the same bits', async () => {
    const run = await open(sheet, ['table.load']);
    to(run, 300);
    run.set('trend.corner', '5 rad/s', sheet);
    to(run, 650);
    run.nudge({ port: 'table.load', to: '0.2 N m' });
    to(run, 1200);
    const first = await lived(run, some);
    run.rewind();
    to(run, 1200);
    expect(await lived(run, some)).toEqual(first);
    const other = await open(sheet, ['table.load', 'want.y']);
    other.takeOver(run);
    to(other, 1200);
    expect(await lived(other, some)).toEqual(first);
  });

  test('a setting taken back to what the sheet says ends where the command puts it to that number', async () => {
    const changedSheet: Sheet = {
      ...sheet,
      blocks: { ...sheet.blocks, law: { is: 'lead_lag', set: { pole: '40 rad/s', zero: '4 rad/s' } } },
    };
    const run = await open(sheet);
    to(run, 600);
    run.set('law.gain', undefined, changedSheet);
    to(run, 1200);
    const changed = await commanded({ at: '3 s', setting: 'law.gain', to: 1 });
    for (const [tick, row] of await lived(run, some)) expect(row).toBe(changed[tick]);
  });

  test('what is no setting, or a build setting, is refused', async () => {
    const run = await open(sheet);
    expect(run.set('angle.seed', 3, sheet)).toBe(false);
    expect(run.set('nothing.gain', 3, sheet)).toBe(false);
    expect(run.nudge({ port: 'law.y', add: 1 })).toMatch(/cannot be nudged/);
  });
});

test('the table is that of the command, in full decimals and in bits', async () => {
  const run = await open(sheet);
  to(run, 300);
  const [head, ...rows] = (await run.table(PORTS, true, now)).trim().split('\n');
  expect(head).toBe(`tick,t,${PORTS.join(',')}`);
  expect(rows).toHaveLength(300);
  const plain = await commanded();
  for (const tick of [0, 157, 299]) {
    const cells = rows[tick]?.split(',') ?? [];
    expect(cells[0]).toBe(String(tick));
    const bytes = Buffer.alloc(8);
    bytes.writeDoubleBE(Buffer.from(plain[tick] ?? '', 'hex').readDoubleLE(0));
    expect(cells[2]).toBe(bytes.toString('hex'));
  }
});

test('expectations are judged as the run goes on, and trips are noted', async () => {
  const run = await open(sheet);
  const states = () => Object.fromEntries(run.verdicts().map(({ name, is, tick }) => [name, [is, tick]]));
  to(run, 100);
  expect(states()).toEqual({ enabled: ['open', undefined], gentle: ['open', undefined], there: ['open', undefined] });
  to(run, 1200);
  const findings: Finding[] = [];
  const judged = await runSheet(sheet, { library, name: 'turntable', run: 'turn' }, findings);
  for (const { name, holds, tick } of judged?.judged ?? [])
    expect(states()[name]).toEqual([holds ? 'holds' : 'fails', tick]);
  expect(run.moments.map(({ mode }) => mode)).toEqual(['waiting', 'ramping', 'enabled']);
});

test('a run past its budget of memory keeps its older ticks coarsely, says from where, and hands over the same table', async () => {
  const long = { ...sheet, runs: { ...sheet.runs, turn: { ...sheet.runs.turn, for: '600 s' } } } as Sheet;
  const small = await open(long, [], ['table.angle'], 200_000);
  const large = await open(long, [], ['table.angle']);
  to(small, 24_000);
  to(large, 24_000);
  expect(large.coarse).toBe(0);
  expect(small.coarse).toBeGreaterThan(1_000);
  expect(small.trace('table.angle')?.at(23_999)).toBe(large.trace('table.angle')?.at(23_999));
  expect(small.trace('table.angle')?.extremes(0, 24_000)).toEqual(large.trace('table.angle')?.extremes(0, 24_000));
  expect(await small.table(['table.angle'], true, now)).toBe(await large.table(['table.angle'], true, now));
});
