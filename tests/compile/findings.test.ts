/** Every finding of the stages fires, at its place, with words; what its repair promises, it keeps. */

import { readdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { describe, expect, test } from 'vitest';
import { library } from '../../blocks/library.ts';
import { compile } from '../../compiler/compile.ts';
import { type Finding, placeText } from '../../compiler/findings.ts';
import { applyEdits } from '../../compiler/sheet/edits.ts';
import { blankSheet, type Run, type Sheet } from '../../compiler/sheet/sheet.ts';
import { stageWording } from '../../compiler/stages/wording.ts';
import { sentence, wordedIds } from '../../compiler/wording.ts';
import { runSheet } from '../../runtime/bench/run.ts';

type Parts = Partial<Sheet>;

interface Case {
  readonly id: string;
  /** Where it is said to be. */
  readonly at: string;
  readonly sheet: Parts;
  /** Words that its sentence must hold. */
  readonly says?: RegExp;
  /** Whether applying the repair makes it go. */
  readonly mends?: true;
}

const block = (name: string, ...lines: string[]): string =>
  [`block ${name}`, '  "Of a test."', ...lines, ''].join('\n');
/** A sheet with one block text of its own. */
const alone = (...lines: string[]): Parts => ({
  shelf: { mine: block('mine', ...lines) },
  blocks: { it: { is: 'mine' } },
});
const fixed = { is: 'fixed' } as const;
/** A plant that is driven and sensed, with a stage to put something between. */
const driven: Parts = {
  blocks: { table: { is: 'turntable' }, sense: { is: 'channel_in' }, drive: { is: 'channel_out' } },
  wires: { 'sense.truth': 'table.angle', 'table.torque': 'drive.truth' },
};

const cases: readonly Case[] = [
  {
    id: 'unknown_block',
    at: 'it',
    sheet: { blocks: { it: { is: 'lead_lg' } } },
    says: /nearest is lead_lag/,
    mends: true,
  },
  {
    id: 'unknown_setting',
    at: 'it.gian',
    sheet: { blocks: { f: fixed, it: { is: 'gain', set: { gian: 2 } } }, wires: { 'it.u': 'f.y' } },
    says: /nearest is gain/,
    mends: true,
  },
  {
    id: 'unknown_input',
    at: 'it.v',
    sheet: { blocks: { f: fixed, it: { is: 'gain' } }, wires: { 'it.v': 'f.y' } },
    says: /nearest is u/,
    mends: true,
  },
  {
    id: 'unknown_output',
    at: 'it.u',
    sheet: { blocks: { f: fixed, it: { is: 'gain' } }, wires: { 'it.u': 'f.x' } },
    says: /nearest is f\.y/,
    mends: true,
  },
  { id: 'unknown_place', at: 'gone.u', sheet: { blocks: { f: fixed }, wires: { 'gone.u': 'f.y' } }, mends: true },
  {
    id: 'unknown_input_kind',
    at: 'it.a',
    sheet: { blocks: { f: fixed, it: { is: 'summing_point', inputs: { a: '*' } } }, wires: { 'it.a': 'f.y' } },
    says: /\+, -/,
  },
  { id: 'unreadable_wire', at: 'it.', sheet: { blocks: { f: fixed, it: { is: 'gain' } }, wires: { 'it.': 'f.y' } } },
  {
    id: 'name_clash',
    at: 'it.y',
    sheet: { blocks: { f: fixed, it: { is: 'summing_point', inputs: { y: '+' } } }, wires: { 'it.y': 'f.y' } },
  },
  {
    id: 'group_in_itself',
    at: 'g.g',
    sheet: {
      shelf: { loop: { ports: {}, blocks: { g: { is: 'loop' } }, wires: {}, layout: {} } },
      blocks: { g: { is: 'loop' } },
    },
  },
  {
    id: 'groups_too_deep',
    at: ['it', ...Array.from({ length: 64 }, () => 'a')].join('.'),
    sheet: {
      shelf: Object.fromEntries(
        Array.from({ length: 70 }, (_, i) => {
          const is = i === 69 ? 'fixed' : `g${i + 1}`;
          return [`g${i}`, { ports: {}, blocks: { a: { is } }, wires: {}, layout: {} }];
        }),
      ),
      blocks: { it: { is: 'g0' } },
    },
  },
  {
    id: 'too_many_blocks',
    at: '',
    sheet: {
      shelf: Object.fromEntries(
        Array.from({ length: 20 }, (_, i) => {
          const is = i === 19 ? 'fixed' : `g${i + 1}`;
          return [`g${i}`, { ports: {}, blocks: { a: { is }, b: { is } }, wires: {}, layout: {} }];
        }),
      ),
      blocks: { it: { is: 'g0' } },
    },
  },
  { id: 'unconnected_input', at: 'it.u', sheet: { blocks: { it: { is: 'gain' } } }, mends: true },
  {
    id: 'unit_mismatch',
    at: 'it.rate',
    sheet: {
      blocks: {
        a: { is: 'fixed', set: { value: '1 V' } },
        b: { is: 'fixed', set: { value: '1 rad' } },
        it: { is: 'complementary' },
      },
      wires: { 'it.angle': 'b.y', 'it.rate': 'a.y' },
    },
    says: /rad|Hz|1\/s/,
  },
  {
    id: 'setting_unit_mismatch',
    at: 'it.corner',
    sheet: { blocks: { f: fixed, it: { is: 'low_pass', set: { corner: '2 Hz' } } }, wires: { 'it.u': 'f.y' } },
    says: /2 \* pi/,
    mends: true,
  },
  { id: 'units_in_block', at: 'it', sheet: alone('out y: V', 'set a: V = 1', 'set b: A = 1', 'y = a + b') },
  {
    id: 'wrong_wire_type',
    at: 'it.u',
    sheet: { blocks: { f: fixed, it: { is: 'invert' } }, wires: { 'it.u': 'f.y' } },
  },
  {
    id: 'wrong_wire_size',
    at: 'it.u',
    sheet: {
      blocks: { f: { is: 'fixed', set: { value: [1, 2, 3] } }, it: { is: 'low_pass' } },
      wires: { 'it.u': 'f.y' },
    },
    says: /3 values/,
    mends: true,
  },
  {
    id: 'index_outside',
    at: 'it.u',
    sheet: { blocks: { f: { is: 'fixed', set: { value: [1, 2] } }, it: { is: 'gain' } }, wires: { 'it.u': 'f.y[3]' } },
  },
  {
    id: 'rates_do_not_fit',
    at: 'it',
    sheet: {
      blocks: { a: { is: 'ramp', every: 2 }, b: { is: 'ramp', every: 3 }, it: { is: 'choose' }, c: { is: 'above' } },
      wires: { 'it.yes': 'a.y', 'it.no': 'b.y', 'it.if': 'c.y', 'c.u': 'a.y' },
    },
  },
  {
    id: 'block_changed',
    at: '',
    sheet: {
      blocks: { a: { is: 'ramp' }, it: { is: 'gain' } },
      wires: { 'it.u': 'a.y' },
      versions: { gain: '0000000000000000' },
    },
    mends: true,
  },
  { id: 'arithmetic_changed', at: '', sheet: { versions: { arithmetic: '0000000000000000' } }, mends: true },
  {
    // A second-order low-pass of 0.05 Hz at 1 kHz as a difference equation: rounded alone, its gain at rest is 0.83.
    id: 'filter_off',
    at: 'it',
    sheet: {
      tick: '1 ms',
      blocks: {
        f: fixed,
        it: {
          is: 'difference_equation',
          set: {
            num: [2.4668e-8, 4.9336e-8, 2.4668e-8],
            den: [1, -1.9995557, 0.9995557986],
          },
        },
      },
      wires: { 'it.u': 'f.y' },
    },
    says: /32 bits/,
  },
  {
    id: 'rate_too_slow',
    at: 'g.it',
    sheet: {
      shelf: { slow: { ports: {}, blocks: { it: { is: 'ramp', every: 1_000_000 } }, wires: {}, layout: {} } },
      blocks: { g: { is: 'slow', every: 1_000_000 } },
    },
  },
  { id: 'phase_outside', at: 'it', sheet: { blocks: { it: { is: 'ramp', every: 2, phase: 2 } } }, mends: true },
  {
    id: 'faster_than_group',
    at: 'g.it',
    sheet: {
      shelf: { slow: { ports: { u: { in: '' } }, blocks: { it: { is: 'gain' } }, wires: { 'it.u': 'u' }, layout: {} } },
      blocks: { a: { is: 'ramp' }, g: { is: 'slow', every: 5 } },
      wires: { 'g.u': 'a.y' },
    },
    mends: true,
  },
  {
    id: 'loop_without_memory',
    at: 'b',
    sheet: { blocks: { a: { is: 'gain' }, b: { is: 'gain' } }, wires: { 'a.u': 'b.y', 'b.u': 'a.y' } },
    says: /a → b|b → a/,
    mends: true,
  },
  {
    id: 'wire_across_shore',
    at: 'table.torque',
    sheet: { blocks: { f: fixed, table: { is: 'turntable' } }, wires: { 'table.torque': 'f.y' } },
  },
  { id: 'output_unread', at: 'it', sheet: { blocks: { f: fixed, it: { is: 'gain' } }, wires: { 'it.u': 'f.y' } } },
  { id: 'actuator_unguarded', at: 'drive', sheet: { ...driven, wires: { ...driven.wires, 'drive.u': 'sense.y' } } },
  {
    id: 'gate_without_stop',
    at: 'gate',
    sheet: {
      ...driven,
      blocks: { ...driven.blocks, gate: { is: 'arming_gate' }, ask: { is: 'button' } },
      wires: { ...driven.wires, 'gate.command': 'sense.y', 'gate.ask': 'ask.y', 'drive.u': 'gate.y' },
    },
  },
  {
    id: 'field_clash',
    at: 'a_b',
    sheet: {
      shelf: { g: { ports: {}, blocks: { b: { is: 'button' } }, wires: {}, layout: {} } },
      blocks: { a: { is: 'g' }, a_b: { is: 'button' } },
    },
  },
  {
    id: 'too_many_tasks',
    at: '',
    sheet: {
      schedule: 'layered',
      blocks: Object.fromEntries(Array.from({ length: 31 }, (_, i) => [`r${i}`, { is: 'ramp', every: 40, phase: i }])),
    },
    mends: true,
  },
  { id: 'bad_tick', at: '', sheet: { tick: '0 s' } },
  { id: 'not_finite', at: 'it.value', sheet: { blocks: { it: { is: 'fixed', set: { value: '1/0' } } } } },
  { id: 'unreadable_value', at: 'it.value', sheet: { blocks: { it: { is: 'fixed', set: { value: '2 +' } } } } },
  { id: 'unknown_name', at: 'it.value', sheet: { blocks: { it: { is: 'fixed', set: { value: '2 * nothing' } } } } },
  {
    id: 'circular_name',
    at: 'it.value',
    sheet: { names: { a: 'b', b: 'a' }, blocks: { it: { is: 'fixed', set: { value: 'a' } } } },
  },
  { id: 'units_disagree', at: 'it.value', sheet: { blocks: { it: { is: 'fixed', set: { value: '1 V + 1 A' } } } } },
  {
    id: 'ragged_matrix',
    at: 'it.A',
    sheet: { blocks: { f: fixed, it: { is: 'state_space', set: { A: [[1, 2], [3]] } } }, wires: { 'it.u': 'f.y' } },
  },
  {
    id: 'too_large',
    at: 'it.value',
    sheet: { blocks: { it: { is: 'fixed', set: { value: Array.from({ length: 5000 }, () => 1) } } } },
  },
  {
    id: 'block_too_large',
    at: 'it',
    sheet: alone('out y', 'mem k = 1', 'next k = k', 'y = sum([sum([k * i * j for i to 4000]) for j to 4000])'),
    says: /more than 100000 operations; make its vectors and repetitions smaller/,
  },
  {
    id: 'sheet_too_large',
    at: 'b6',
    sheet: {
      shelf: {
        mine: block('mine', 'out y', 'mem k = 1', 'next k = k', 'y = sum([sum([k for i to 150]) for j to 150])'),
      },
      blocks: Object.fromEntries(Array.from({ length: 12 }, (_, i) => [`b${i}`, { is: 'mine' }])),
    },
    says: /are those of “b0”/,
  },
  {
    id: 'too_much_kept',
    at: 'it',
    sheet: alone(
      'out y',
      ...Array.from({ length: 21 }, (_, i) => [`line l${i} = 0 length 100000`, `next l${i} = 1`]).flat(),
      'y = l1[1]',
    ),
  },
  {
    id: 'wrong_build',
    at: 'it.method',
    sheet: {
      blocks: { f: fixed, it: { is: 'transfer_function', set: { method: 'euler' } } },
      wires: { 'it.u': 'f.y' },
    },
    says: /tustin/,
  },
  { id: 'wrong_type', at: 'it.value', sheet: { blocks: { it: { is: 'fixed', set: { value: true } } } } },
  {
    id: 'wrong_size',
    at: 'it.gain',
    sheet: { blocks: { f: fixed, it: { is: 'gain', set: { gain: [1, 2] } } }, wires: { 'it.u': 'f.y' } },
  },
  {
    id: 'outside_bounds',
    at: 'it.corner',
    sheet: { blocks: { f: fixed, it: { is: 'low_pass', set: { corner: -1 } } }, wires: { 'it.u': 'f.y' } },
    says: /above 0/,
  },
  {
    id: 'need_unmet',
    at: 'it',
    sheet: {
      blocks: { f: fixed, it: { is: 'transfer_function', set: { num: [1, 2, 3], den: [1, 1] } } },
      wires: { 'it.u': 'f.y' },
    },
  },
  {
    id: 'no_such_file',
    at: 'it',
    sheet: { blocks: { it: { is: 'recorded', set: { file: 'gone.csv', columns: ['a'] } } } },
  },
  {
    id: 'bad_size',
    at: 'it.m',
    sheet: alone('out y', 'build n: int = 9000', 'mem m: [n] = 0', 'y = m[1]', 'next m = m'),
  },
  {
    id: 'not_whole',
    at: 'it',
    sheet: alone(
      'out y: int',
      'mem k: int = 0',
      'y = k',
      'next k = k + 1',
      'z = k == 0.5',
      'w: bool'.replace('w: bool', 'q = int(0.5) + k'),
      'mem j: int = 0.5',
      'next j = j',
    ),
  },
  {
    id: 'not_an_element',
    at: 'it',
    sheet: alone('out y', 'set a: [2] = [1, 2]', 'y = sum([b is "+" ? x : x for x in a])'),
  },
  { id: 'not_a_size', at: 'it', sheet: alone('out y', 'set a = 2', 'y = sum([1 for i to a])') },
  {
    id: 'wrong_product',
    at: 'it',
    sheet: alone('out y', 'set a: [2] = [1, 2]', 'set b: [2] = [1, 2]', 'y = sum(a * b)'),
  },
  { id: 'wrong_argument_count', at: 'it', sheet: alone('out y', 'y = sin(1, 2)') },
  { id: 'host_only', at: 'it', sheet: alone('out y: int', 'mem x = 0.1', 'next x = x', 'y = periods(x * 1 s)') },
  { id: 'run_only', at: 'it', sheet: alone('out y', 'let a = normal(1)', 'y = a') },
  { id: 'unknown_function', at: 'it', sheet: alone('out y', 'y = sine(1)') },
  {
    id: 'index_moves',
    at: 'it',
    sheet: alone('out y', 'set a: [2, 2] = [1, 2; 3, 4]', 'mem k: int = 1', 'next k = k', 'y = a[k, 1]'),
  },
  { id: 'not_on_host', at: 'it', sheet: alone('in u = 0', 'out y', 'let a = u', 'y = a') },
];

const made = (parts: Parts): Sheet => ({ ...blankSheet(), tick: '10 ms', ...parts });
const found = (sheet: Sheet): readonly Finding[] => compile(sheet, { library }).findings;

describe('findings of the stages', () => {
  for (const { id, at, sheet: parts, says, mends } of cases)
    test(id, () => {
      const sheet = made(parts);
      const mine = found(sheet).filter((finding) => finding.id === id);
      expect(
        found(sheet)
          .map((f) => `${f.id} ${f.at.path}`)
          .join('\n'),
      ).toContain(`${id} ${at}`.trim());
      const finding = mine.find((one) => one.at.path === at) ?? mine[0];
      if (finding === undefined) throw new Error(`${id} does not fire`);
      const { brief, full, help } = sentence(finding);
      for (const words of [brief, full, help]) expect(words).not.toMatch(/undefined|\?\?|\[object/);
      expect(Math.min(brief.length, help.length)).toBeGreaterThan(10);
      if (says !== undefined) expect(full).toMatch(says);
      if (mends === true) {
        expect(finding.repair?.label).toBeDefined();
        const after = found(applyEdits(sheet, finding.repair?.edits ?? []));
        expect(after.map((f) => `${f.id} ${f.at.path}`)).not.toContain(`${id} ${at}`);
      }
    });

  test('a broken block text is told once, with its line', () => {
    const sheet = made({
      shelf: { mine: block('mine', 'out y', 'y = (1 +') },
      blocks: { a: { is: 'mine' }, b: { is: 'mine' } },
    });
    const errors = found(sheet).filter((finding) => finding.level === 'error');
    expect(errors.length).toBeGreaterThan(0);
    expect(new Set(errors.map((finding) => `${finding.id} ${placeText(finding.at)}`)).size).toBe(errors.length);
    expect(placeText(errors[0]?.at ?? { path: '' })).toMatch(/block mine, line 4/);
  });

  test('a loop names every block on it', () => {
    const names = ['a', 'b', 'c', 'd'];
    const blocks = Object.fromEntries(names.map((name) => [name, { is: 'gain' }]));
    const wires = Object.fromEntries(names.map((name, i) => [`${name}.u`, `${names[(i + 3) % 4]}.y`]));
    const [loop] = found(made({ blocks, wires })).filter((finding) => finding.id === 'loop_without_memory');
    for (const name of names) expect(loop?.facts.blocks?.split(' → ')).toContain(name);
  });

  test('a lamp, which can hurt nobody, needs no gate', () => {
    const parts: Parts = { blocks: { ask: { is: 'button' }, it: { is: 'lamp' } }, wires: { 'it.on': 'ask.pressed' } };
    expect(found(made(parts)).map((f) => f.id)).not.toContain('actuator_unguarded');
    const relay: Parts = { ...parts, blocks: { ...parts.blocks, it: { is: 'switch_out' } } };
    expect(found(made(relay)).map((f) => f.id)).toContain('actuator_unguarded');
  });

  test('what is silenced is not shown, but an error cannot be silenced', () => {
    const parts: Parts = { ...driven, wires: { ...driven.wires, 'drive.u': 'sense.y' } };
    const silenced = { 'actuator_unguarded drive': 'a demonstration on the table', 'unconnected_input it.u': 'no' };
    expect(found(made({ ...parts, silenced })).map((f) => f.id)).not.toContain('actuator_unguarded');
    expect(found(made({ blocks: { it: { is: 'gain' } }, silenced })).map((f) => f.id)).toContain('unconnected_input');
  });
});

describe('findings of runs', () => {
  const parts: Parts = {
    blocks: { a: { is: 'ramp' }, late: { is: 'dead_time', side: 'controller', set: { delay: '50 ms' } } },
    wires: { 'late.u': 'a.y' },
  };
  const of = async (run: Run, name = 'it'): Promise<string[]> => {
    const findings: Finding[] = [];
    await runSheet(made({ ...parts, runs: { it: run } }), { library, run: name }, findings);
    for (const finding of findings) expect(sentence(finding).full).not.toMatch(/undefined/);
    return findings.map(({ id }) => id);
  };
  const cases: readonly (readonly [string, Run])[] = [
    ['unknown_port', { record: ['a.z'] }],
    ['bad_length', { for: 'V' }],
    ['bad_time', { nudges: { n: { at: 'soon', port: 'a.y', add: 1 } } }],
    ['sets_a_length', { nudges: { n: { at: 0, setting: 'late.delay', to: '30 ms' } } }],
    ['bad_amount', { nudges: { n: { at: 0, port: 'a.y', to: 'much' } } }],
    ['not_a_condition', { expect: { e: 'a.y + 1 always' } }],
  ];
  for (const [id, run] of cases) test(id, async () => expect(await of(run)).toContain(id));
  test('unknown_run', async () => expect(await of({}, 'other')).toContain('unknown_run'));

  test('every worded id of the stages is fired here', () => {
    const fired = new Set([...cases.map(([id]) => id), 'unknown_run', ...allCases()]);
    expect(Object.keys(stageWording).filter((id) => !fired.has(id))).toEqual([]);
  });
});

function allCases(): string[] {
  return cases.map(({ id }) => id);
}

test('every id that the code pushes has words', () => {
  const root = join(import.meta.dirname, '../..');
  const known = new Set(wordedIds());
  const unworded: string[] = [];
  for (const folder of ['compiler/stages', 'compiler/review', 'runtime/bench'])
    for (const file of readdirSync(join(root, folder))) {
      if (!file.endsWith('.ts')) continue;
      const text = readFileSync(join(root, folder, file), 'utf8');
      const ids = [
        ...text.matchAll(/\bid: '([a-z_]+)'|(?:report|fail)\('([a-z_]+)'|textFinding\(\w+(?:\.\w+)*, '([a-z_]+)'/g),
      ];
      for (const [, a, b, c] of ids) if (!known.has(a ?? b ?? c ?? '')) unworded.push(`${file}: ${a ?? b ?? c}`);
    }
  expect(unworded).toEqual([]);
});
