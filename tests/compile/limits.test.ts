/** Small sheets that ask for a great deal: each gets an answer in time, and a finding where there is too much. */

import { expect, test } from 'vitest';
import { library } from '../../blocks/library.ts';
import { compile } from '../../compiler/compile.ts';
import { loadSheet } from '../../compiler/sheet/load.ts';
import { blankSheet, type Sheet } from '../../compiler/sheet/sheet.ts';
import { sentence } from '../../compiler/wording.ts';
import { openBench } from '../../runtime/bench/bench.ts';

/** Processor seconds one answer may take; the machine may be busy with other things, so not the clock's. */
const PATIENCE = 2;

const block = (...lines: string[]): Partial<Sheet> => ({
  shelf: { mine: ['block mine', '  "T."', ...lines, ''].join('\n') },
  blocks: { it: { is: 'mine' } },
});
const cases: Readonly<Record<string, Partial<Sheet>>> = {
  plant_steps: { plant_steps: 1e9, blocks: { p: { is: 'turntable' } } },
  plant_steps_million: { plant_steps: 1e6, blocks: { p: { is: 'turntable' } } },
  every: { blocks: { it: { is: 'ramp', every: 2147483647, phase: 2147483646 } } },
  every_huge: { blocks: { it: { is: 'ramp', every: 1e15, phase: 5 } } },
  every_frac: { blocks: { it: { is: 'ramp', every: 1.5 } } },
  tick_small: { tick: '1e-300 s', blocks: { it: { is: 'ramp' } } },
  tick_big: { tick: '1e300 s', blocks: { it: { is: 'slew_limit' }, r: { is: 'ramp' } }, wires: { 'it.u': 'r.y' } },
  nested_each: block('out y', 'mem k = 0', 'next k = k + 1', 'y = sum([sum([k * i * j for i to 4000]) for j to 4000])'),
  nested_each3: block(
    'out y',
    'mem k = 0',
    'next k = k + 1',
    'y = sum([sum([sum([k * i * j * l for i to 400]) for j to 400]) for l to 400])',
  ),
  outer: block('out y', 'mem k: [4096] = 1', 'next k = k', 'y = sum(sum(k * transpose(k)))'),
  product: block('out y', 'mem k: [64, 64] = 1', 'next k = k * k * k * k', 'y = k[1, 1]'),
  product_many: block('out y', 'mem k: [64, 64] = 1', `next k = ${Array(60).fill('k').join(' * ')}`, 'y = k[1, 1]'),
  host_each: block('out y', 'let k = sum([sum([i * j for i to 4096]) for j to 4096])', 'y = k'),
  host_expm: block('out y', 'let k = matrix_exp([[i * j * 0.001 for i to 64] for j to 64])', 'y = k[1, 1]'),
  host_solve: block('out y', 'let k = solve([[i * j * 0.001 for i to 64] for j to 64], [1 for i to 64])', 'y = k[1]'),
  power: block('out y', 'mem k = 1', 'next k = k', 'y = k ^ 1000000000'),
  power_neg: block('out y', 'mem k = 1', 'next k = k', 'y = k ^ -2147483648'),
  vector: block('out y', 'mem k: [4096] = 1', 'next k = [k[i] * 2 for i to 4096]', 'y = sum(k)'),
  vectors: block(
    'out y',
    ...Array.from({ length: 100 }, (_, i) => [
      `mem k${i}: [4096] = 1`,
      `next k${i} = [k${i}[i] * 2 for i to 4096]`,
    ]).flat(),
    'y = sum(k1)',
  ),
  line: block('out y', 'line l = 0 length 100000', 'next l = 1', 'y = l[1]'),
  lines: block(
    'out y',
    ...Array.from({ length: 400 }, (_, i) => [`line l${i} = 0 length 100000`, `next l${i} = 1`]).flat(),
    'y = l1[1]',
  ),
  line_vector: block('out y', 'line l: [4096] = 0 length 100000', 'next l = [1 for i to 4096]', 'y = l[1]'),
  delay: { blocks: { r: { is: 'ramp' }, it: { is: 'tick_delay', set: { ticks: 1e9 } } }, wires: { 'it.u': 'r.y' } },
  periods: block('out y: int', 'let k = periods(1e300 s)', 'y = k'),
  chain: block(
    'out y',
    ...Array.from({ length: 5000 }, (_, i) => `a${i} = a${i + 1} + a${i + 1}`),
    'mem a5000 = 1',
    'next a5000 = a5000',
    'y = a0',
  ),
  let_chain: block(
    'out y',
    ...Array.from({ length: 5000 }, (_, i) => `let a${i} = a${i + 1} + a${i + 1}`),
    'let a5000 = 1',
    'y = a0',
  ),
  names: {
    names: {
      ...Object.fromEntries(Array.from({ length: 3000 }, (_, i) => [`a${i}`, `a${i + 1} + a${i + 1}`])),
      a3000: 1,
    },
    blocks: { it: { is: 'fixed', set: { value: 'a0' } } },
  },
  modes: block(
    `mode ${Array.from({ length: 3000 }, (_, i) => `m${i}`).join(', ')}`,
    `from ${Array.from({ length: 3000 }, (_, i) => `m${i}`).join(', ')} to m0 when true`,
  ),
  choose: block(
    'out y',
    'mem k = 0',
    'next k = k',
    `y = ${Array.from({ length: 3000 }, () => 'k > 1 ? k : ').join('')}1`,
  ),
  paren: block('out y', `y = ${'('.repeat(20000)}1${')'.repeat(20000)}`),
  plus: block('out y', 'mem k = 0', 'next k = k', `y = ${Array(20000).fill('k').join(' + ')}`),
  minus: block('out y', `y = ${'-'.repeat(20000)}1`),
  notz: block('out y: bool', `y = ${'not '.repeat(20000)}true`),
  summing: {
    blocks: {
      r: { is: 'ramp' },
      it: { is: 'summing_point', inputs: Object.fromEntries(Array.from({ length: 8000 }, (_, i) => [`i${i}`, '+'])) },
    },
    wires: Object.fromEntries(Array.from({ length: 8000 }, (_, i) => [`it.i${i}`, 'r.y'])),
  },
  matrix_state: {
    blocks: {
      r: { is: 'ramp' },
      it: {
        is: 'state_space',
        set: {
          A: Array.from({ length: 60 }, () => Array(60).fill(0.1)),
          B: Array.from({ length: 60 }, () => [1]),
          C: [Array(60).fill(1)],
        },
      },
    },
    wires: { 'it.u': 'r.y' },
  },
  transfer: {
    blocks: { r: { is: 'ramp' }, it: { is: 'transfer_function', set: { num: [1], den: Array(4000).fill(1) } } },
    wires: { 'it.u': 'r.y' },
  },
  transfer60: {
    blocks: { r: { is: 'ramp' }, it: { is: 'transfer_function', set: { num: [1], den: Array(60).fill(1) } } },
    wires: { 'it.u': 'r.y' },
  },
  difference: {
    blocks: { r: { is: 'ramp' }, it: { is: 'difference_equation', set: { num: [1], den: Array(4000).fill(1) } } },
    wires: { 'it.u': 'r.y' },
  },
  recorded: {
    blocks: {
      it: { is: 'recorded', set: { file: 'x.csv', columns: Array.from({ length: 4000 }, (_, i) => `c${i}`) } },
    },
  },
  chain_blocks: {
    blocks: {
      b0: { is: 'ramp' },
      ...Object.fromEntries(Array.from({ length: 3000 }, (_, i) => [`b${i + 1}`, { is: 'gain' }])),
    },
    wires: Object.fromEntries(Array.from({ length: 3000 }, (_, i) => [`b${i + 1}.u`, `b${i}.y`])),
  },
  cyclic_chain: {
    blocks: Object.fromEntries(Array.from({ length: 3000 }, (_, i) => [`b${i}`, { is: 'gain' }])),
    wires: Object.fromEntries(Array.from({ length: 3000 }, (_, i) => [`b${i}.u`, `b${(i + 1) % 3000}.y`])),
  },
  cyclic_every: {
    blocks: Object.fromEntries(
      Array.from({ length: 1000 }, (_, i) => [`b${i}`, { is: 'tick_delay', ...(i % 2 ? { every: i } : {}) }]),
    ),
    wires: Object.fromEntries(Array.from({ length: 1000 }, (_, i) => [`b${i}.u`, `b${(i + 1) % 1000}.y`])),
  },
  fold: block('out y', 'mem k: [4096] = 1', 'next k = k', 'y = fold(a = 0; b in k; fold(c = a; d in k; c + d))'),
  wraps: block('out y: int', 'mem k: int = 1', 'next k = wrap(k, 99999)', 'y = k'),
  size_chain: block(
    'out y',
    'build n: int = 4096',
    'mem m: [n] = [1 for i to n]',
    'next m = [sum([m[j] for j to n]) for i to n]',
    'y = m[1]',
  ),
};

/** What is too much, and what says so. */
const refused: Readonly<Record<string, string>> = {
  plant_steps: 'wrong_value',
  every: 'wrong_value',
  every_frac: 'wrong_value',
  nested_each: 'block_too_large',
  nested_each3: 'block_too_large',
  outer: 'too_large',
  product: 'block_too_large',
  product_many: 'block_too_large',
  host_each: 'block_too_large',
  vectors: 'block_too_large',
  lines: 'too_much_kept',
  names: 'leans_too_deep',
  paren: 'nested_too_deep',
  plus: 'statement_too_long',
  minus: 'nested_too_deep',
  transfer: 'block_too_large',
  difference: 'block_too_large',
  cyclic_chain: 'loop_without_memory',
};

for (const [name, parts] of Object.entries(cases))
  test(name, async () => {
    const before = process.cpuUsage();
    const loaded = loadSheet(JSON.stringify({ ...blankSheet(), ...parts }));
    const found = loaded.value === undefined ? loaded : compile(loaded.value, { library });
    const { user, system } = process.cpuUsage(before);
    expect((user + system) / 1e6).toBeLessThan(PATIENCE);
    for (const finding of found.findings.slice(0, 20)) expect(sentence(finding).full).not.toMatch(/undefined|\[object/);
    const errors = found.findings.filter((finding) => finding.level === 'error');
    expect(errors.length === 0).toBe(found.value !== undefined);
    if (refused[name] !== undefined) expect(errors.map((finding) => finding.id)).toContain(refused[name]);
    if (loaded.value !== undefined && found.value !== undefined && 'bench' in found.value)
      (await openBench(found.value, { engine: 'interpreter', record: [] }, [])).advance(2);
  }, 20_000);

test('every case that must be refused is there', () => {
  expect(Object.keys(refused).filter((name) => !Object.hasOwn(cases, name))).toEqual([]);
});

test('many blocks that are large together are refused with the largest named', () => {
  const text = 'block big\n  "T."\nout y\nmem k: [4096] = 1\nnext k = [k[i] * 2 + 1 for i to 4096]\ny = sum(k)\n';
  const blocks = Object.fromEntries(Array.from({ length: 40 }, (_, i) => [`b${i}`, { is: 'big' }]));
  const sheet: Sheet = { ...blankSheet(), shelf: { big: text }, blocks };
  const before = process.cpuUsage();
  const [finding] = compile(sheet, { library }).findings.filter(({ id }) => id === 'sheet_too_large');
  const { user, system } = process.cpuUsage(before);
  expect((user + system) / 1e6).toBeLessThan(2 * PATIENCE);
  expect(finding?.facts.largest).toMatch(/^b\d+$/);
});
