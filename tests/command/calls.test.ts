/** A wrong call is answered in a sentence with status 2, never with a stack trace, and with `--json` as one object. */

import { spawnSync } from 'node:child_process';
import { mkdirSync } from 'node:fs';
import { dirname, join } from 'node:path';
import { expect, test } from 'vitest';
import packageFile from '../../package.json' with { type: 'json' };
import { settingArgument, settingValue, wordList } from '../../runtime/command/arguments.ts';
import { cart, command, commandJson, fileOf, launcher } from './sheets.ts';

const file = fileOf(cart);
const folder = join(dirname(file), 'folder');
mkdirSync(folder);

test.each([
  [[], /a verb is missing; see npx loopwright --help/],
  [['chek', file], /unknown command 'chek' \(Did you mean check\?\); see npx loopwright --help/],
  [['check'], /missing required argument 'sheet'; see npx loopwright check --help/],
  [['check', file, 'more'], /too many arguments/],
  [['run', file, '--fr', '3s'], /unknown option '--fr' \(Did you mean --for\?\); see npx loopwright run --help/],
  [['run', file, '--engine', 'steam'], /wasm, interpreter/],
  [['run', file, '--set', 'gain'], /--set gain says no setting; write --set block\.setting=value/],
  [['emit', file], /required option '--to <folder>' not specified/],
  [['check', join(folder, 'none.sheet.json')], /none\.sheet\.json: there is no such file or folder; check the name/],
  [['check', folder], /folder: this is a folder; give a file/],
  [['check', join(file, 'x')], /part of the path is a file/],
])('%j', (words, said) => {
  // With --json the message stands on standard error too, besides the one object.
  const { ok, status, errors, findings } = commandJson<{ findings: { level: string; message: string }[] }>(...words);
  expect([ok, status]).toEqual([false, 2]);
  expect(errors).toMatch(said);
  expect(errors.trimEnd().split('\n')).toHaveLength(1);
  expect(findings.map((finding) => finding.level)).toEqual(['error']);
  expect(errors.endsWith(`: ${findings[0]?.message}\n`)).toBe(true);
});

test('without --json nothing but the message is said', () => {
  const missing = join(folder, 'none.sheet.json');
  const errors = `${missing}: there is no such file or folder; check the name\n`;
  expect(command('check', missing)).toEqual({ status: 2, output: '', errors });
});

const overview = command('--help').output;

test.each([
  'check',
  'run',
  'bench',
  'emit',
  'schedule',
  'linear',
  'margins',
  'response',
  'discretise',
  'locus',
  'motion',
  'serve',
])('help for %s', (verb) => {
  const { status, output, errors } = command(verb, '--help');
  expect([status, errors]).toEqual([0, '']);
  expect(output).toContain(`Usage: loopwright ${verb}`);
  expect(overview).toContain(`  ${verb} `);
});

test('the version is the package’s', () => {
  expect(command('--version')).toEqual({ status: 0, output: `${packageFile.version}\n`, errors: '' });
});

test('a reader that stops listening is no fault', () => {
  const line = `"${process.execPath}" "${launcher}" run "${file}" --for 200s --record cart.x | head -n 1`;
  const { stdout, stderr } = spawnSync('bash', ['-c', line], { encoding: 'utf8' });
  expect([stdout, stderr]).toEqual(['tick,t,cart.x\n', '']);
});

test('more rows than can be printed are refused with what would mend it', () => {
  const { status, errors } = command('run', file, '--for', '100000 s', '--record', 'cart.x');
  expect(status).toBe(2);
  expect(errors).toContain('--csv');
});

test('texts of arguments', () => {
  expect(wordList('a.x, b.y,')).toEqual(['a.x', 'b.y']);
  expect(wordList('a.M[1,2],b.y')).toEqual(['a.M[1,2]', 'b.y']);
  expect(settingArgument('balance.tilt.corner=0.5 rad/s')).toEqual(['balance.tilt.corner', '0.5 rad/s']);
  expect(settingArgument('a.k=-1e-3')).toEqual(['a.k', -0.001]);
  expect(settingArgument('a.k=b == c')).toEqual(['a.k', 'b == c']);
  expect(settingValue('[1, [2, "3 m"]]')).toEqual([1, [2, '3 m']]);
  expect(settingValue('[1, 2 m]')).toBe('[1, 2 m]');
  expect(settingValue('true')).toBe(true);
  expect(settingValue('tustin')).toBe('tustin');
});
