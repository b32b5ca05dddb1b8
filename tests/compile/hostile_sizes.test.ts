/** Sheets made to stall or to fill the memory: each is answered soon, with words where it is refused, and never thrown at. */

import { describe, expect, test } from 'vitest';
import { library } from '../../blocks/library.ts';
import { compile } from '../../compiler/compile.ts';
import { loadSheet } from '../../compiler/sheet/load.ts';
import { blankSheet, type Sheet } from '../../compiler/sheet/sheet.ts';
import { sentence } from '../../compiler/wording.ts';
import { openBench } from '../../runtime/bench/bench.ts';

/** Processor seconds an answer may take, and megabytes. */
const PATIENCE = 2;
const ROOM = 400;

/** What a sheet says, and the finding it ends in; none where it compiles and runs. */
type Case = readonly [parts: Partial<Sheet>, finding?: string];

const text = (...lines: readonly string[]): string => ['block mine', '  "Of a test."', ...lines, ''].join('\n');
const block = (...lines: readonly string[]): Partial<Sheet> => ({
  shelf: { mine: text(...lines) },
  blocks: { it: { is: 'mine' } },
});
const many = <T>(count: number, make: (i: number) => T): T[] => Array.from({ length: count }, (_, i) => make(i));
const named = <T>(count: number, make: (i: number) => readonly [string, T]): Record<string, T> =>
  Object.fromEntries(many(count, make));
const remembering = (equation: string): Partial<Sheet> => block('out y', 'mem k = 0', 'next k = k + 1', equation);
const fed = (set: NonNullable<Sheet['blocks'][string]['set']>, is: string): Partial<Sheet> => ({
  blocks: { r: { is: 'ramp' }, it: { is, set } },
  wires: { 'it.u': 'r.y' },
});
const group = (blocks: Sheet['blocks'], wires: Record<string, string> = {}) => ({
  ports: {},
  blocks,
  wires,
  layout: {},
});

const repeated: Record<string, Case> = {
  'a sum of sums': [remembering('y = sum([sum([k * i * j for i to 4000]) for j to 4000])'), 'block_too_large'],
  'sums of sums of sums': [
    remembering('y = sum([sum([sum([k * i * j * l for i to 400]) for j to 400]) for l to 400])'),
    'block_too_large',
  ],
  'a fold in a fold': [
    block('out y', 'mem k: [4096] = 1', 'next k = k', 'y = fold(a = 0; b in k; fold(c = a; d in k; c + d))'),
    'block_too_large',
  ],
  'a product of a column and a row': [
    block('out y', 'mem k: [4096] = 1', 'next k = k', 'y = sum(sum(k * transpose(k)))'),
    'too_large',
  ],
  'a product of many matrices': [
    block('out y', 'mem k: [64, 64] = 1', `next k = ${many(60, () => 'k').join(' * ')}`, 'y = k[1, 1]'),
    'block_too_large',
  ],
  'numbers on the host': [
    block('out y', 'let k = sum([sum([i * j for i to 4096]) for j to 4096])', 'y = k'),
    'block_too_large',
  ],
  'exponentials of exponentials': [
    block('out y', `let k = ${'matrix_exp('.repeat(50)}zeros(64, 64)${')'.repeat(50)}`, 'y = k[1, 1]'),
    'block_too_large',
  ],
  'one exponential': [block('out y', 'let k = matrix_exp([[i * j * 0.001 for i to 64] for j to 64])', 'y = k[1, 1]')],
  'indices that move': [
    block(
      ...['out y', 'mem k: int = 1', 'next k = k + 1', 'mem m: [4096] = 1', 'next m = m'],
      'y = sum([m[k + i] for i to 4000])',
    ),
    'block_too_large',
  ],
  'a saying': [
    { ...remembering('y = k\nsay sum([sum([k * i * j for i to 4000]) for j to 4000]) > 1 "x"') },
    'block_too_large',
  ],
  'inputs with inputs': [
    {
      blocks: { r: { is: 'ramp' }, it: { is: 'mine', inputs: named(2000, (i) => [`i${i}`, '+']) } },
      shelf: { mine: text('inputs a: real as "+"', 'out y', 'y = sum([sum([b * c for b in a]) for c in a])') },
      wires: named(2000, (i) => [`it.i${i}`, 'r.y']),
    },
    'block_too_large',
  ],
  'a size of a size': [
    block(
      ...['out y', 'build n: int = 4096', 'mem m: [n] = [1 for i to n]'],
      ...['next m = [sum([m[j] for j to n]) for i to n]', 'y = m[1]'],
    ),
    'block_too_large',
  ],
  'settings of the sheet': [
    {
      blocks: named(200, (i) => [
        `b${i}`,
        { is: 'fixed', set: { value: `sum([sum([i * j * ${i} for i to 1000]) for j to 1000])` } },
      ]),
    },
    'block_too_large',
  ],
  'many blocks, each just small enough': [
    {
      shelf: { mine: text('out y', 'mem k = 1', 'next k = k', 'y = sum([sum([k * i + j for i to 100]) for j to 60])') },
      blocks: named(400, (i) => [`b${i}`, { is: 'mine' }]),
    },
    'sheet_too_large',
  ],
  'many blocks of many equations': [
    {
      shelf: { mine: text('out y', ...many(5000, (i) => `a${i} = 1`), 'y = 1') },
      blocks: named(5000, (i) => [`b${i}`, { is: 'mine' }]),
    },
    'too_many_blocks',
  ],
  'a filter of order 3999': [fed({ num: [1], den: many(4000, () => 1) }, 'transfer_function'), 'block_too_large'],
  'a filter of order 59': [fed({ num: [1], den: many(60, () => 1) }, 'transfer_function')],
  'a difference equation of order 3999': [
    fed({ num: [1], den: many(4000, () => 1) }, 'difference_equation'),
    'block_too_large',
  ],
  'eight thousand inputs': [
    {
      blocks: { r: { is: 'ramp' }, it: { is: 'summing_point', inputs: named(8000, (i) => [`i${i}`, '+']) } },
      wires: named(8000, (i) => [`it.i${i}`, 'r.y']),
    },
    'too_large',
  ],
};

const kept: Record<string, Case> = {
  'a long vector': [block('out y', 'mem k: [4096] = 1', 'next k = [k[i] * 2 for i to 4096]', 'y = sum(k)')],
  'a hundred long vectors': [
    block(
      'out y',
      ...many(100, (i) => `mem k${i}: [4096] = 1\nnext k${i} = [k${i}[i] * 2 for i to 4096]`),
      'y = sum(k1)',
    ),
    'block_too_large',
  ],
  'a long delay line': [block('out y', 'line l = 0 length 100000', 'next l = 1', 'y = l[1]')],
  'many long delay lines': [
    block('out y', ...many(400, (i) => `line l${i} = 0 length 100000\nnext l${i} = 1`), 'y = l1[1]'),
    'too_much_kept',
  ],
  'four thousand states': [block('out y', 'state x: [4000] = 1', 'd/dt x = [-x[i] / 1 s for i to 4000]', 'y = x[1]')],
};

const chained: Record<string, Case> = {
  'equations, the last first': [
    block('out y', ...many(3500, (i) => `a${i} = a${i + 1} + 1`), 'mem a3500 = 1', 'next a3500 = a3500', 'y = a0'),
  ],
  'lets, the last first': [
    block('out y', ...many(3500, (i) => `let a${i} = a${i + 1} + 1`), 'let a3500 = 1', 'y = a0'),
  ],
  'lets, the first first': [
    block('out y', 'let a0 = 1', ...many(3000, (i) => `let a${i + 1} = a${i} + 1`), 'y = a3000'),
  ],
  'lets in a circle': [block('out y', 'let a = b', 'let b = a', 'y = a'), 'circular_name'],
  'settings, the last first': [
    block('out y', ...many(3500, (i) => `set a${i} = a${i + 1} + 1`), 'set a3500 = 1', 'y = a0'),
  ],
  'bounds of settings': [
    {
      shelf: { mine: text('out y', ...many(2500, (i) => `set a${i} = 1 from a${i + 1}`), 'set a2500 = 1', 'y = a0') },
      blocks: { it: { is: 'mine', set: named(2500, (i) => [`a${i}`, 2]) } },
    },
  ],
  'inputs left to others': [block(...many(3000, (i) => `in a${i} = a${i + 1}`), 'in a3000 = 1', 'out y', 'y = a0')],
  'memories that start with others': [
    block(
      ...many(2000, (i) => `mem a${i} = a${i + 1}\nnext a${i} = a${i + 1}`),
      ...['mem a2000 = 1', 'next a2000 = a2000', 'out y', 'y = a0'],
    ),
  ],
  'names of the sheet, each twice the next': [
    {
      names: { ...named(3000, (i) => [`a${i}`, `a${i + 1} + a${i + 1}`]), a3000: 1 },
      blocks: { it: { is: 'fixed', set: { value: 'a0' } } },
    },
    'not_finite',
  ],
  'three thousand modes': [
    block(
      `mode ${many(3000, (i) => `m${i}`).join(', ')}`,
      `from ${many(3000, (i) => `m${i}`).join(', ')} to m0 when true`,
    ),
  ],
  brackets: [block('out y', `y = ${'('.repeat(20000)}1${')'.repeat(20000)}`), 'nested_too_deep'],
  signs: [block('out y', `y = ${'-'.repeat(20000)}1`), 'nested_too_deep'],
  'a sum of a thousand': [remembering(`y = ${many(980, () => 'k').join(' + ')}`)],
  'a sum of twenty thousand': [remembering(`y = ${many(20000, () => 'k').join(' + ')}`), 'statement_too_long'],
  choices: [remembering(`y = ${'k > 1 ? k : '.repeat(3000)}1`), 'nested_too_deep'],
  'a text beyond reading': [block('out y', ...many(9000, (i) => `a${i} = a${i + 1} + 1`)), 'text_too_long'],
};

const grouped: Record<string, Case> = {
  'blocks in a row': [
    {
      blocks: { b0: { is: 'ramp' }, ...named(3000, (i) => [`b${i + 1}`, { is: 'gain' }]) },
      wires: named(3000, (i) => [`b${i + 1}.u`, `b${i}.y`]),
    },
  ],
  'blocks in a ring': [
    {
      blocks: named(3000, (i) => [`b${i}`, { is: 'gain' }]),
      wires: named(3000, (i) => [`b${i}.u`, `b${(i + 1) % 3000}.y`]),
    },
    'loop_without_memory',
  ],
  'five hundred rates that share nothing': [
    {
      blocks: named(1000, (i) => [`b${i}`, { is: 'tick_delay', ...(i % 2 === 1 ? { every: i } : {}) }]),
      wires: named(1000, (i) => [`b${i}.u`, `b${(i + 1) % 1000}.y`]),
    },
  ],
  'two slow rates that rarely meet': [
    { blocks: { a: { is: 'ramp', every: 1e9, phase: 3 }, b: { is: 'ramp', every: 999_999_999, phase: 5 } } },
  ],
  'dividers of dividers': [
    {
      shelf: named(40, (i) => [`g${i}`, group({ a: i === 39 ? { is: 'ramp' } : { is: `g${i + 1}`, every: 1000 } })]),
      blocks: { it: { is: 'g0' } },
    },
    'rate_too_slow',
  ],
  'switches of switches': [
    {
      shelf: named(60, (i) => [
        `g${i}`,
        group({ h: { is: 'button' }, a: i === 59 ? { is: 'ramp' } : { is: `g${i + 1}`, when: 'h.y' } }),
      ]),
      blocks: { it: { is: 'g0' } },
    },
  ],
  'a group three thousand deep': [
    {
      shelf: named(3000, (i) => [`g${i}`, group({ a: { is: i === 2999 ? 'ramp' : `g${i + 1}` } })]),
      blocks: { it: { is: 'g0' } },
    },
    'groups_too_deep',
  ],
  'a group that doubles': [
    {
      shelf: named(40, (i) => [
        `g${i}`,
        group({ a: { is: i === 39 ? 'ramp' : `g${i + 1}` }, b: { is: i === 39 ? 'ramp' : `g${i + 1}` } }),
      ]),
      blocks: { it: { is: 'g0' } },
    },
    'too_many_blocks',
  ],
};

const misspelt: Record<string, Case> = {
  'wires from nowhere': [
    {
      blocks: named(3000, (i) => [`block_${i}`, { is: 'gain' }]),
      wires: named(3000, (i) => [`block_${i}.u`, `blok_${i}.y`]),
    },
    'unknown_output',
  ],
  'blocks that are none': [{ blocks: named(5000, (i) => [`block_${i}`, { is: `gian${i}` }]) }, 'unknown_block'],
  'names that are none': [block('out y', ...many(2500, (i) => `a${i} = what${i} + 1`), 'y = 1'), 'unknown_name'],
  'units that are none': [block('out y', ...many(6000, (i) => `a${i} = 1 fo${i % 10}`), 'y = 1'), 'unknown_unit'],
  'statements that are none': [block('out y', ...many(9000, () => 'nxet k'), 'y = 1'), 'unknown_statement'],
  'units that disagree': [block('out y', ...many(3000, (i) => `a${i} = 1 V + 1 A`), 'y = 1'), 'units_in_block'],
  'a name of fifty thousand letters': [
    {
      blocks: { ['a'.repeat(50_000)]: { is: 'gain' } },
      wires: { [`${'a'.repeat(49_999)}.u`]: `${'b'.repeat(50_000)}.y` },
    },
    'bad_name',
  ],
};

const huge: Record<string, Case> = {
  'a tick too small to count': [{ tick: '1e-300 s', blocks: { it: { is: 'ramp' } } }],
  'a tick too large to wait for': [
    { tick: '1e300 s', blocks: { it: { is: 'slew_limit' }, r: { is: 'ramp' } }, wires: { 'it.u': 'r.y' } },
  ],
  'a thousand million steps': [{ plant_steps: 1e9, blocks: { p: { is: 'turntable' } } }, 'wrong_value'],
  'a divider beyond 32 bits': [{ blocks: { it: { is: 'ramp', every: 1e15, phase: 5 } } }, 'wrong_value'],
  'periods beyond 32 bits': [block('out y: int', 'let k = periods(1e300 s)', 'y = k')],
  'a power beyond reach': [block('out y', 'mem k = 1', 'next k = k', 'y = k ^ -2147483648')],
  'more bits than there are': [block('out y: int', 'mem k: int = 1', 'next k = wrap(k, 99999)', 'y = k'), 'not_a_size'],
};

async function answer(parts: Partial<Sheet>): Promise<readonly string[]> {
  const { value: sheet, findings: unread } = loadSheet(JSON.stringify({ ...blankSheet(), ...parts }));
  if (sheet === undefined) return unread.map(({ id }) => id);
  const { value, findings } = compile(sheet, { library });
  for (const finding of findings.slice(0, 10)) expect(sentence(finding).full).not.toMatch(/undefined|\[object/);
  if (value !== undefined) (await openBench(value, { engine: 'interpreter', record: [] }, [])).advance(3);
  return findings.filter(({ level }) => level === 'error').map(({ id }) => id);
}

for (const [what, cases] of Object.entries({ repeated, kept, chained, grouped, misspelt, huge }))
  describe(`sheets made to stall: ${what}`, () => {
    for (const [name, [parts, finding]] of Object.entries(cases))
      test(name, async () => {
        const [before, heap] = [process.cpuUsage(), process.memoryUsage().heapUsed];
        const errors = await answer(parts);
        const { user, system } = process.cpuUsage(before);
        expect((user + system) / 1e6).toBeLessThan(PATIENCE);
        expect((process.memoryUsage().heapUsed - heap) / 1e6).toBeLessThan(ROOM);
        if (finding === undefined) expect(errors).toEqual([]);
        else expect(errors).toContain(finding);
      }, 60_000);
  });
