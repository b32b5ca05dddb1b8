/** What each verb does and prints, asked of the real command. */

import { spawnSync } from 'node:child_process';
import { existsSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { dirname, join } from 'node:path';
import { describe, expect, test } from 'vitest';
import { targets } from '../../compiler/c/targets/targets.ts';
import type { Sheet } from '../../compiler/sheet/sheet.ts';
import { cart, command, commandJson, fileOf } from './sheets.ts';

interface Said {
  readonly level: string;
  readonly id: string;
  readonly at: string;
  readonly message: string;
}

interface Rows {
  readonly ticks: number;
  readonly columns: readonly string[];
  readonly rows: readonly (readonly (number | string)[])[];
  readonly plantError: number;
}

const file = fileOf(cart);

function spoilt(change: (sheet: Sheet) => Sheet): string {
  return fileOf(change(cart));
}

describe('check', () => {
  test('a good sheet is fine, whatever advice there is', () => {
    const { ok, status, findings } = commandJson<{ findings: readonly Said[] }>('check', file);
    expect([ok, status]).toEqual([true, 0]);
    expect(findings.filter((finding) => finding.level === 'error')).toEqual([]);
    expect(command('check', file).output).toMatch(/^0 errors, \d+ warnings?, \d+ advice\n$/);
  });

  test('what cannot be compiled is an error at its place', () => {
    const wrong = spoilt((sheet) => ({ ...sheet, wires: { ...sheet.wires, 'law.x': 'sense.angle' } }));
    const { ok, status, findings } = commandJson<{ findings: readonly Said[] }>('check', wrong);
    expect([ok, status]).toEqual([false, 1]);
    const error = findings.find((finding) => finding.level === 'error');
    expect(error?.at).toContain('law.x');
    const { status: plain, errors, output } = command('check', wrong);
    expect(plain).toBe(1);
    expect(errors).toContain(`${wrong}: ${error?.at}: ${error?.message}\n`);
    expect(output).toMatch(/^[1-9]\d* errors?, /);
  });

  test('a broken file is an error with its line', () => {
    const broken = fileOf('{\n  "loopwright": 1,\n  "tick": "5 ms"\n  "blocks": {}\n}\n');
    const { status, errors, output } = command('check', broken);
    expect([status, output]).toEqual([1, '']);
    expect(errors).toMatch(/: line 4, column 3: here stands "blocks": where a comma or } belongs; see the line/);
    const { ok, findings } = commandJson<{ findings: readonly Said[] }>('check', broken);
    expect(ok).toBe(false);
    expect(findings).toMatchObject([{ level: 'error', id: 'sheet_not_json', at: 'line 4, column 3' }]);
  });
});

describe('run', () => {
  test('rows as CSV: tick, time, then the ports in the order given', () => {
    const { status, output, errors } = command('run', file, '--run', 'go', '--record', 'law.f,cart.x');
    expect([status, errors]).toEqual([0, '']);
    const lines = output.trimEnd().split('\n');
    expect(lines).toHaveLength(301);
    expect(lines[0]).toBe('tick,t,law.f,cart.x');
    expect(lines[1]).toBe('0,0,3,0');
    expect(lines[8]).toMatch(/^7,0.07,/);
    expect(lines[300]).toMatch(/^299,2.99,/);
  });

  test('the rows are those of the machine: a proportional law against the exact second-order answer', () => {
    // x'' + 2 x' + 3 x = 3 from rest gives x = 1 − e^(−t) (cos √2 t + sin √2 t / √2): any textbook on ordinary
    // differential equations. Sampling every 20 ms and holding moves it by at most about half a period's travel.
    const { rows } = commandJson<Rows>('run', file, '--for', '0.9s', '--record', 'cart.x');
    const root2 = Math.sqrt(2);
    for (const [, t, x] of rows as readonly (readonly number[])[]) {
      const time = t ?? Number.NaN;
      const exact = 1 - Math.exp(-time) * (Math.cos(root2 * time) + Math.sin(root2 * time) / root2);
      expect(Math.abs((x ?? Number.NaN) - exact)).toBeLessThan(0.012);
    }
    expect(rows).toHaveLength(90);
  });

  test('JSON carries the same rows', () => {
    const { ok, ticks, columns, rows, plantError } = commandJson<Rows>('run', file, '--run', 'go');
    const csv = command('run', file, '--run', 'go').output.trimEnd().split('\n');
    expect([ok, ticks]).toEqual([true, 300]);
    expect(columns.join(',')).toBe(csv[0]);
    expect(rows.map((row) => row.join(','))).toEqual(csv.slice(1));
    expect(plantError).toBeGreaterThan(0);
    expect(plantError).toBeLessThan(1e-3);
  });

  test('shortest decimals and raw bits are the same numbers, each in its own width', () => {
    const decimals = commandJson<Rows>('run', file, '--run', 'go').rows;
    const bits = commandJson<Rows>('run', file, '--run', 'go', '--bits').rows;
    const view = new DataView(new ArrayBuffer(8));
    for (const [i, [, , x, f]] of bits.entries()) {
      expect([String(x).length, String(f).length]).toEqual([16, 8]);
      view.setBigUint64(0, BigInt(`0x${x}`));
      expect(decimals[i]?.[2]).toBe(view.getFloat64(0));
      view.setUint32(0, Number.parseInt(String(f), 16));
      expect(Math.fround(Number(decimals[i]?.[3]))).toBe(view.getFloat32(0));
    }
  });

  test('both engines give the same bits', () => {
    const rows = (engine: string) => command('run', file, '--run', 'go', '--bits', '--engine', engine).output;
    expect(rows('interpreter')).toBe(rows('wasm'));
  });

  test('a run, its length, and settings can be said in the call', () => {
    const still = commandJson<Rows>(
      'run',
      file,
      '--for',
      '50 ms',
      '--set',
      'law.gain=0',
      '--record',
      'cart.x,law.gain',
    );
    expect(still.rows).toEqual([0, 1, 2, 3, 4].map((tick) => [tick, tick / 100, 0, 0]));
    const pulled = commandJson<Rows>(
      'run',
      file,
      '--for',
      '20ms',
      '--set',
      'law.gain=600 g/s^2',
      '--set',
      'want.place=-2',
      '--record',
      'law.f',
    );
    expect(pulled.rows[0]?.[2]).toBe(-1.2);
  });

  test('a file takes the rows, whole or not at all', () => {
    const csv = join(dirname(file), 'rows.csv');
    const { status, output } = command('run', file, '--run', 'go', '--csv', csv);
    expect(status).toBe(0);
    expect(output).toMatch(/^300 ticks; /);
    expect(readFileSync(csv, 'utf8')).toBe(command('run', file, '--run', 'go', '--csv', '-').output);
    const full = command('run', file, '--run', 'go', '--csv', '/dev/full');
    expect(full.status).toBe(2);
    expect(full.errors).toBe('/dev/full: the disk is full; make room or choose another place\n');
    expect(readdirSync(dirname(file)).filter((name) => name.startsWith('.'))).toEqual([]);
  });

  test('a recorded table beside the sheet is played back; one elsewhere is not read', () => {
    const played = (name: string) => {
      const recorded = { is: 'recorded', set: { file: name, columns: ['push'] } };
      return fileOf({ ...cart, blocks: { ...cart.blocks, table: recorded } }, 'played.sheet.json');
    };
    const sheet = played('table.csv');
    writeFileSync(join(dirname(sheet), 'table.csv'), 't,push\n0,2\n0.015,-1.5\n');
    const { rows } = commandJson<Rows>('run', sheet, '--for', '40ms', '--record', 'table.push');
    expect(rows.map((row) => row[2])).toEqual([2, 2, -1.5, -1.5]);
    const outside = played('../table.csv');
    writeFileSync(join(dirname(outside), '..', 'table.csv'), 't,push\n0,2\n');
    const { status, errors } = command('run', outside, '--for', '40ms', '--record', 'table.push');
    rmSync(join(dirname(outside), '..', 'table.csv'));
    expect(status).toBe(1);
    expect(errors).toContain('table.csv');
  });

  test.each([
    [['--run', 'og'], /og/],
    [['--record', 'cart.y'], /cart\.y/],
    [['--set', 'low.gain=1'], /low/],
    [['--set', 'law.gian=1'], /gian/],
    [['--set', 'law.gain=1 s'], /law\.gain/],
    [['--for', 'soon'], /soon/],
  ])('%j is wrong about the sheet', (words, said) => {
    const { status, errors, output } = command('run', file, ...words);
    expect([status, output]).toEqual([1, '']);
    expect(errors.startsWith(`${file}: `)).toBe(true);
    expect(errors).toMatch(said);
    expect(commandJson('run', file, ...words)).toMatchObject({ ok: false, status: 1 });
  });
});

describe('bench', () => {
  test('every run is judged, and the last line counts', () => {
    const { status, output } = command('bench', file);
    expect(status).toBe(0);
    expect(output.trimEnd().split('\n').at(-1)).toBe('2 passed, 0 failed');
    expect(commandJson('bench', file)).toMatchObject({ ok: true, runs: [{ name: 'go', passed: 2, failed: [] }] });
  });

  test('what does not come true fails, and says when', () => {
    const expects = { far: 'cart.x > 7 m once', near: 'cart.x < 0.5 m always', starts: 'cart.x == 0 m once until 0 s' };
    const failing = spoilt((sheet) => ({ ...sheet, runs: { go: { ...sheet.runs.go, expect: expects } } }));
    const { status, output, errors } = command('bench', failing);
    expect(status).toBe(1);
    expect(output.trimEnd().split('\n').at(-1)).toBe('1 passed, 2 failed');
    expect(errors).toMatch(/: runs\.go\.expect\.near: it fails at 0\.\d+ s, tick \d+: cart\.x < 0\.5 m always; /);
    expect(errors).toMatch(/: runs\.go\.expect\.far: it never comes true: /);
    const { ok, runs } = commandJson<{ runs: unknown }>('bench', failing);
    expect([ok, runs]).toEqual([false, [{ name: 'go', passed: 1, failed: ['far', 'near'] }]]);
  });

  test('a run that cannot be made fails', () => {
    const expects = { odd: 'cart.nothing < 1 always' };
    const failing = spoilt((sheet) => ({ ...sheet, runs: { go: { ...sheet.runs.go, expect: expects } } }));
    expect(commandJson('bench', failing)).toMatchObject({ ok: false, status: 1, runs: [{ failed: ['odd'] }] });
  });

  test('a sheet without runs has nothing to fail', () => {
    const { status, output } = command(
      'bench',
      spoilt((sheet) => ({ ...sheet, runs: {} })),
    );
    expect([status, output]).toEqual([0, '0 passed, 0 failed\n']);
  });
});

describe('emit', () => {
  test('C in one flat folder, named after the file', () => {
    const to = join(dirname(file), 'made', 'c');
    const { ok, files, memoryBytes, inputs, outputs } = commandJson<{
      files: string[];
      memoryBytes: number;
      inputs: string[];
      outputs: string[];
    }>('emit', file, '--to', to);
    expect([ok, inputs, outputs]).toEqual([true, ['sense'], ['drive']]);
    expect([...files].sort()).toEqual(readdirSync(to).sort());
    expect(files).toEqual(expect.arrayContaining(['cart.c', 'cart.h']));
    expect(memoryBytes).toBeGreaterThan(0);
    expect(readFileSync(join(to, 'cart.h'), 'utf8')).toContain(
      'void cart_tick(cart_t *m, const cart_in_t *in, cart_out_t *out)',
    );
  });

  test('the same sheet gives the same bytes; another number type gives others', () => {
    const made = (name: string, ...words: string[]) => {
      const to = join(dirname(file), name);
      expect(command('emit', file, '--to', to, ...words).status).toBe(0);
      return readFileSync(join(to, 'cart.c'), 'utf8');
    };
    expect(made('again')).toBe(made('once'));
    expect(made('double', '--number', 'f64')).not.toBe(made('once'));
  });

  test.each(['f32', 'f64'])('the self-check of a run compares every value at every tick, in %s', (number) => {
    const to = join(dirname(file), `checked_${number}`);
    const { files } = commandJson<{ files: string[] }>(
      'emit',
      file,
      '--to',
      to,
      '--number',
      number,
      '--selfcheck',
      'go',
    );
    expect(files).toContain('selfcheck.c');
    const program = join(to, 'selfcheck');
    const flags = ['-std=c99', '-Wall', '-Wextra', '-Wpedantic', '-Werror', '-ffp-contract=off'];
    const sources = files.filter((name) => name.endsWith('.c')).map((name) => join(to, name));
    expect(spawnSync('gcc', [...flags, '-o', program, ...sources, '-lm'], { encoding: 'utf8' }).stderr).toBe('');
    const { status, stdout } = spawnSync(program, { encoding: 'utf8' });
    const [, passed] = /^(\d+) passed, 0 failed\n$/.exec(stdout) ?? [];
    expect(Number(passed) % 300).toBe(0);
    expect(Number(passed)).toBeGreaterThan(0);
    expect(status).toBe(0);
  });

  test('a self-check that is wrong about one bit fails', () => {
    const to = join(dirname(file), 'spoilt');
    command('emit', file, '--to', to, '--selfcheck', 'go');
    const header = join(to, 'cart.c');
    writeFileSync(header, readFileSync(header, 'utf8').replace(/3\.0f/, '3.0000002f'));
    const program = join(to, 'selfcheck');
    spawnSync('gcc', ['-std=c99', '-ffp-contract=off', '-o', program, header, join(to, 'selfcheck.c'), '-lm']);
    const { status, stdout } = spawnSync(program, { encoding: 'utf8' });
    expect(stdout).toMatch(/^\d+ passed, [1-9]\d* failed\n$/);
    expect(status).not.toBe(0);
  });

  test('a run that is not there is wrong about the sheet', () => {
    const { status, errors } = command('emit', file, '--to', join(dirname(file), 'never'), '--selfcheck', 'went');
    expect(status).toBe(1);
    expect(errors).toContain('went');
  });

  test('a sheet that is wrong writes nothing', () => {
    const wrong = spoilt((sheet) => ({ ...sheet, blocks: { ...sheet.blocks, more: { is: 'nothing_such' } } }));
    const to = join(dirname(wrong), 'out');
    expect(command('emit', wrong, '--to', to).status).toBe(1);
    expect(existsSync(to)).toBe(false);
  });

  test.each([
    [['--target', 'abacus'], 'plain'],
    [['--number', 'f16'], 'f32, f64'],
    [['--target', 'avr', '--number', 'f64'], '--target avr has no f64; emit with --number f32'],
  ])('%j is a wrong call that says what there is', (words, known) => {
    const { status, errors } = command('emit', file, '--to', join(dirname(file), 'never'), ...words);
    expect(status).toBe(2);
    expect(errors).toContain(known);
  });

  test('help lists every target with what it is for', () => {
    const { output } = command('emit', '--help');
    for (const { name, about } of targets)
      expect(output).toMatch(new RegExp(`^ +${name} +.*${about.slice(0, 8)}`, 'm'));
  });

  test('where the folder cannot be, it says so', () => {
    expect(command('emit', file, '--to', file)).toEqual({
      status: 2,
      output: '',
      errors: `${file}: a file stands where a folder is to be; choose another place\n`,
    });
    expect(command('emit', file, '--to', join(file, 'c')).errors).toMatch(
      /: part of the path is a file, not a folder; /,
    );
  });
});

describe('schedule', () => {
  test('tasks with their order and work', () => {
    const { ok, tick, period, tasks } = commandJson<{
      tick: number;
      period: number;
      tasks: { every: number; phase: number; order: string[]; ops: number }[];
    }>('schedule', file);
    expect([ok, tick, period]).toEqual([true, 0.01, 2]);
    expect(tasks.map(({ every, phase, order }) => [every, phase, order])).toEqual([
      [1, 0, ['sense', 'want']],
      [2, 0, ['law', 'drive']],
    ]);
    expect(tasks.every((task) => task.ops >= 0)).toBe(true);
    expect(command('schedule', file).output).toContain('every 2, phase 0: ');
  });
});
