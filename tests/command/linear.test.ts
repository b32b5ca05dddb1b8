/** Linear verbs on sheets: published linearisations through the command's JSON, and what cannot be analysed. */

import { readFileSync } from 'node:fs';
import { Matrix } from 'ml-matrix';
import { describe, expect, test } from 'vitest';
import { library } from '../../blocks/library.ts';
import { compile } from '../../compiler/compile.ts';
import { eigenvalues } from '../../compiler/linear/eigenvalues.ts';
import { sheetModel } from '../../compiler/linear/sheet_model.ts';
import { linearWording } from '../../compiler/linear/wording.ts';
import { blankSheet, type Sheet } from '../../compiler/sheet/sheet.ts';
import { command, commandJson, fileOf } from './sheets.ts';

interface Case {
  readonly id: string;
  readonly source: string;
  readonly inputs: {
    readonly states: readonly string[];
    readonly inputs: readonly string[];
    readonly xdot: readonly string[];
    readonly y: readonly string[];
    readonly params: Readonly<Record<string, number>>;
    readonly x_eq: readonly number[];
    readonly u_eq: readonly number[];
  };
  readonly expected: {
    readonly A: number[][];
    readonly B: number[][];
    readonly C: number[][];
    readonly D: number[][];
    readonly char_poly: readonly number[];
    readonly eigenvalues: readonly (readonly [number, number])[];
  };
}

// Equilibria and exact Jacobians, computed with SymPy 1.11.1 and mpmath (tests/reference/README.md).
const { cases } = JSON.parse(readFileSync(new URL('../reference/08-linearisation.json', import.meta.url), 'utf8')) as {
  readonly cases: readonly Case[];
};

/** The entry's equations as a plant of its own on a sheet, started a little off its equilibrium. */
function sheetOf({ inputs }: Case): Sheet {
  const lines = [
    'block plant',
    '"Equations of a reference entry."',
    'side plant',
    ...inputs.inputs.map((name) => `in ${name} = 0`),
    ...inputs.y.map((name) => `out ${name}_seen`),
    ...Object.entries(inputs.params).map(([name, value]) => `set ${name} = ${value}`),
    ...inputs.states.map(
      (name, i) => `state ${name} = ${(inputs.x_eq[i] ?? 0) * 1.01 + (inputs.x_eq[i] === 0 ? 1e-3 : 0)}`,
    ),
    ...inputs.states.map((name, i) => `d/dt ${name} = ${inputs.xdot[i]?.replaceAll('**', '^')}`),
    ...inputs.y.map((name) => `${name}_seen = ${name}`),
  ];
  return {
    ...blankSheet(),
    tick: '10 ms',
    number: 'f64',
    blocks: { it: { is: 'plant' } },
    shelf: { plant: lines.join('\n') },
  };
}

describe('linearisations of tests/reference/08-linearisation.json', () => {
  test.each(cases.map((one) => [one.id, one] as const))('%s', (_, one) => {
    const { inputs, expected } = one;
    const found = commandJson<{
      A: number[][];
      B: number[][];
      C: number[][];
      D: number[][];
      dt: number;
      den: number[];
      poles: { re: number; im: number }[];
    }>(
      'linear',
      fileOf(sheetOf(one)),
      '--from',
      inputs.inputs.map((name) => `it.${name}`).join(','),
      '--to',
      inputs.y.map((name) => `it.${name}_seen`).join(','),
      ...inputs.inputs.flatMap((name, i) => ['--hold', `it.${name}=${inputs.u_eq[i]}`]),
    );
    expect([found.status, found.dt]).toEqual([0, 0]);
    const { value } = compile(sheetOf(one), { library });
    const made =
      value === undefined
        ? undefined
        : sheetModel(value, {
            from: inputs.inputs.map((name) => `it.${name}`),
            to: inputs.y.map((name) => `it.${name}_seen`),
            cut: [],
            hold: Object.fromEntries(inputs.inputs.map((name, i) => [`it.${name}`, inputs.u_eq[i] ?? Number.NaN])),
          }).value;
    // The library and the command are one: what is checked below is checked of both.
    for (const name of ['A', 'B', 'C', 'D'] as const) expect(made?.system[name].to2DArray()).toEqual(found[name]);
    // The tolerances are those of the entries.
    for (const name of ['A', 'B', 'C', 'D'] as const)
      for (const [i, row] of expected[name].entries())
        for (const [j, value] of row.entries())
          expect(Math.abs((found[name][i]?.[j] ?? Number.NaN) - value), `${name}[${i}][${j}]`).toBeLessThanOrEqual(
            Math.max(1e-12, 1e-10 * Math.abs(value)),
          );
    const largest = Math.max(...expected.char_poly.map(Math.abs));
    for (const [i, value] of expected.char_poly.entries())
      expect(Math.abs((found.den[i] ?? Number.NaN) - value)).toBeLessThanOrEqual(1e-9 * largest);
    for (const poles of [found.poles, eigenvalues(new Matrix(found.A))]) {
      expect(poles).toHaveLength(expected.eigenvalues.length);
      for (const [re, im] of expected.eigenvalues) {
        const nearest = Math.min(...poles.map((pole) => Math.hypot(pole.re - re, pole.im - im)));
        expect(nearest).toBeLessThanOrEqual(1e-8 * Math.max(Math.hypot(re, im), 1e-6));
      }
    }
  });
});

/** A lag with a law around it, with something to break. */
const loop: Sheet = {
  ...blankSheet(),
  tick: '10 ms',
  number: 'f64',
  blocks: {
    sensor: { is: 'channel_in' },
    law: { is: 'gain', set: { gain: -2 } },
    drive: { is: 'channel_out' },
    lag: { is: 'first_order_lag' },
    gate: { is: 'arming_gate', inputs: { fine: 'reasons' } },
    fine: { is: 'above' },
    asks: { is: 'button' },
  },
  wires: {
    'sensor.truth': 'lag.y',
    'law.u': 'sensor.y',
    'gate.command': 'law.y',
    'gate.ask': 'asks.y',
    'gate.fine': 'fine.y',
    'fine.u': 'sensor.y',
    'drive.u': 'gate.y',
    'lag.u': 'drive.truth',
  },
};
const plant = (equations: string, more: Partial<Sheet> = {}): Sheet => ({
  ...blankSheet(),
  tick: '10 ms',
  number: 'f64',
  blocks: { it: { is: 'it' } },
  shelf: { it: `block it\n"A plant."\nside plant\nin u = 0\nout y\n${equations}\ny = x\n` },
  ...more,
});
const falling = plant('state x = 0\nstate v = 0\nd/dt x = v\nd/dt v = u - 9.81');
const root = plant('state x = 0\nd/dt x = u - sqrt(x)');
const vector: Sheet = plant('', {
  shelf: {
    it: 'block it\n"Two."\nside plant\nin u = 0\nout y: [2]\nstate x: [2] = [0, 0]\nd/dt x = [u - x[1], u - 2 * x[2]]\ny = x\n',
  },
});
const rates: Sheet = {
  ...loop,
  blocks: {
    ...loop.blocks,
    ...Object.fromEntries([101, 103, 107].map((every) => [`d${every}`, { is: 'tick_delay', every }])),
    law: { is: 'gain', every: 109, set: { gain: -2 } },
  },
  wires: { ...loop.wires, 'd101.u': 'sensor.y', 'd103.u': 'd101.y', 'd107.u': 'd103.y', 'law.u': 'd107.y' },
};
const long: Sheet = { ...loop, blocks: { ...loop.blocks, sensor: { is: 'channel_in', set: { delay: '50 s' } } } };

const wrong: readonly (readonly [id: string, sheet: Sheet, words: readonly string[]])[] = [
  ['unreachable', loop, ['linear', '--from', 'gate.ask', '--to', 'lag.y']],
  ['nothing_back', loop, ['margins', '--cut', 'drive.u', '--hold', 'gate.mode=held']],
  [
    'nothing_back',
    { ...loop, blocks: { ...loop.blocks, law: { is: 'gain', set: { gain: 0 } } } },
    ['margins', '--cut', 'law.u'],
  ],
  ['response_on_a_pole', plant('state x = 0\nd/dt x = u'), ['response', '--from', 'it.u', '--to', 'it.y', '--at', '0']],
  ['no_rest', falling, ['linear', '--from', 'it.u', '--to', 'it.y']],
  ['not_smooth', root, ['linear', '--from', 'it.u', '--to', 'it.y']],
  ['period_long', rates, ['margins', '--cut', 'drive.u']],
  ['too_many_states', long, ['margins', '--cut', 'drive.u']],
  ['bad_hold', loop, ['margins', '--cut', 'drive.u', '--hold', 'gate.mode=sleepy']],
  ['hold_setting', loop, ['margins', '--cut', 'drive.u', '--hold', 'law.gain=3']],
  ['which_element', vector, ['linear', '--from', 'it.u', '--to', 'it.y']],
  ['not_excited', falling, ['linear', '--from', 'it.x', '--to', 'it.y']],
  ['cut_nothing', falling, ['margins', '--cut', 'it.u']],
  ['no_loops', falling, ['margins']],
  ['unknown_port', loop, ['response', '--from', 'drive.u', '--to', 'lag.z', '--at', '1']],
];

describe('what cannot be analysed is said in a sentence', () => {
  test.each(wrong)('%s', (id, sheet, [verb = '', ...words]) => {
    const found = commandJson<{ findings: { id: string }[] }>(verb, fileOf(sheet), ...words);
    expect([found.ok, found.status, found.findings.map((finding) => finding.id)]).toEqual([false, 1, [id]]);
    expect(found.errors).not.toMatch(/NaN|undefined|fault of the program/);
  });

  test('every finding of linear analysis is fired here', () => {
    const fired = new Set(wrong.map(([id]) => id));
    expect(Object.keys(linearWording).filter((id) => !fired.has(id))).toEqual([]);
  });

  test.each([
    [['linear', '--to', 'lag.y'], /--from <ports>' not specified/],
    [['margins', '--cut', 'drive.u', '--hold', 'lag.y'], /--hold lag\.y says no value/],
    [['margins', '--cut', 'drive.u', '--vary', 'law.gain=3'], /says no band/],
    [['margins', '--cut', 'drive.u', '--vary', 'law.gian=±20%'], /law\.gian is no setting/],
    [['margins', '--vary', 'law.gain=±20%'], /--vary needs a loop/],
    [['response', '--from', 'drive.u', '--at', '1'], /--to is missing/],
    [['response', '--from', 'drive.u', '--to', 'lag.y'], /--at is missing/],
  ])('%j is a wrong call', ([verb = '', ...words], said) => {
    const { status, output, errors } = command(verb, fileOf(loop), ...words);
    expect([status, output]).toEqual([2, '']);
    expect(errors).toMatch(said);
  });
});

describe('a loop of a sheet', () => {
  const drive = ['--cut', 'drive.u'];

  test('every loop found has its margins, with where its phase goes', () => {
    const { status, loops } = commandJson<{
      loops: { name: string; cut: string; phaseMargins: number[]; ledger: { w: number } }[];
    }>('margins', fileOf(loop));
    expect([status, loops.map(({ name, cut }) => [name, cut])]).toEqual([0, [['gate.y', 'drive.u']]]);
    const alone = commandJson<{ phaseMargins: number[]; ledger: { w: number } }>('margins', fileOf(loop), ...drive);
    expect(loops[0]?.phaseMargins).toEqual(alone.phaseMargins);
    expect(loops[0]?.ledger).toEqual(alone.ledger);
  });

  test('its L is that of a held lag: K(1 − a)/(z − a), read without the tick in it', () => {
    const { re, im } = commandJson<{ re: number[]; im: number[] }>(
      'response',
      fileOf(loop),
      '--from',
      'drive.u',
      '--to',
      'gate.y',
      ...drive,
      '--at',
      '3',
    );
    const a = Math.exp(-0.01);
    const z = { re: Math.cos(0.03), im: Math.sin(0.03) };
    const over = { re: z.re - a, im: z.im };
    const square = over.re ** 2 + over.im ** 2;
    const gain = -2 * (1 - a);
    expect(re[0]).toBeCloseTo((gain * over.re) / square, 12);
    expect(im[0]).toBeCloseTo((-gain * over.im) / square, 12);
  });

  test('a setting put is in it, and one that may be off is looked at on both sides, the worst named', () => {
    const margins = (...words: readonly string[]) =>
      commandJson<{
        gainInterval: [number, number];
        members: { name: string; factor: number }[];
        worst: { name: string; factor: number };
      }>('margins', fileOf(loop), ...drive, ...words);
    const [plain, doubled] = [margins(), margins('--set', 'law.gain=-4')];
    expect(doubled.gainInterval[1]).toBeCloseTo(plain.gainInterval[1] / 2, 9);
    const { members, worst } = margins('--vary', 'law.gain=±20%');
    expect(members.map(({ factor }) => Number(factor.toFixed(3)))).toEqual([0.8, 0.9, 1, 1.1, 1.2]);
    expect([worst.name, worst.factor]).toEqual(['law.gain', 1.2]);
  });
});

test('answers do not hang on the order of blocks in the file, nor on when they are asked for', () => {
  const turned: Sheet = {
    ...loop,
    blocks: Object.fromEntries(Object.entries(loop.blocks).reverse()),
    wires: Object.fromEntries(Object.entries(loop.wires).reverse()),
  };
  const ask = (sheet: Sheet) => command('margins', fileOf(sheet), '--cut', 'drive.u', '--json').output;
  expect(ask(loop)).toBe(ask(loop));
  expect(ask(turned)).toBe(ask(loop));
});
