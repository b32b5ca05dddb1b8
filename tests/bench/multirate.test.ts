/**
 * Two nested loops of different rates, drawn as a user draws them, against the exact sampled-data cascade of
 * tests/reference/05-time-response.json (mpmath): what a tick means, held values, saturation and actuators at once.
 */

import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { describe, expect, test } from 'vitest';
import { library } from '../../blocks/library.ts';
import { type BlockOnSheet, blankSheet, type Sheet } from '../../compiler/sheet/sheet.ts';
import { runSheet } from '../../runtime/bench/run.ts';

interface Loop {
  readonly kp: number;
  readonly ki: number;
  readonly limit: number | null;
}

interface Case {
  readonly id: string;
  readonly kind: string;
  readonly inputs: {
    readonly T: number;
    readonly outer_every: number;
    readonly inner_pi: Loop;
    readonly outer_pi: Loop;
    readonly reference: number;
    readonly ticks: number;
  };
  readonly expected: Readonly<Record<string, readonly number[]>>;
}

const file = JSON.parse(readFileSync(join(import.meta.dirname, '../reference/05-time-response.json'), 'utf8')) as {
  cases: Case[];
};

/** Plants 20/(0.25 s + 1) and 1/s, the outer after the inner. */
const plants = `block cascade
  "A lag and an integrator in a row."
in v
out y1
out y2
state a = 0
state b = 0
d/dt a = (20 * v - a) / 0.25 s
d/dt b = a / 1 s
y1 = a
y2 = b
`;

function loop(
  name: string,
  pi: Loop,
  every: number,
  error: string,
): { blocks: Record<string, BlockOnSheet>; wires: Record<string, string> } {
  const rate = every === 1 ? {} : { every };
  return {
    blocks: {
      [`${name}_p`]: { is: 'gain', set: { gain: pi.kp }, ...rate },
      [`${name}_i`]: { is: 'integrator', set: { gain: pi.ki }, ...rate },
      [`${name}_sum`]: { is: 'summing_point', inputs: { i: '+', p: '+' }, ...rate },
      [`${name}_limit`]: {
        is: 'saturation',
        set: pi.limit === null ? {} : { low: -pi.limit, high: pi.limit },
        ...rate,
      },
    },
    wires: {
      [`${name}_p.u`]: error,
      [`${name}_i.u`]: error,
      [`${name}_sum.p`]: `${name}_p.y`,
      [`${name}_sum.i`]: `${name}_i.y`,
      [`${name}_limit.u`]: `${name}_sum.y`,
    },
  };
}

function sheetOf(item: Case): Sheet {
  const { T, outer_every: every, inner_pi, outer_pi, reference } = item.inputs;
  const outer = loop('outer', outer_pi, every, 'outer_error.y');
  const inner = loop('inner', inner_pi, 1, 'inner_error.y');
  return {
    ...blankSheet(),
    tick: T,
    number: 'f64',
    plant_steps: 20,
    shelf: { cascade: plants },
    blocks: {
      ...outer.blocks,
      ...inner.blocks,
      want: { is: 'fixed', set: { value: reference } },
      outer_error: { is: 'summing_point', inputs: { got: '-', want: '+' }, every },
      inner_error: { is: 'summing_point', inputs: { got: '-', want: '+' } },
      plant: { is: 'cascade' },
      sense1: { is: 'channel_in' },
      sense2: { is: 'channel_in' },
      drive: { is: 'channel_out' },
    },
    wires: {
      ...outer.wires,
      ...inner.wires,
      'sense1.truth': 'plant.y1',
      'sense2.truth': 'plant.y2',
      'outer_error.want': 'want.y',
      'outer_error.got': 'sense2.y',
      'inner_error.want': 'outer_limit.y',
      'inner_error.got': 'sense1.y',
      'drive.u': 'inner_limit.y',
      'plant.v': 'drive.truth',
    },
  };
}

describe('two rates, one tick', () => {
  for (const item of file.cases.filter(({ kind }) => kind === 'multirate'))
    test(item.id, async () => {
      const findings: unknown[] = [];
      const columns = { y1: 'sense1.y', y2: 'sense2.y', r1: 'outer_limit.y', v: 'inner_limit.y' };
      const record = Object.values(columns);
      const result = await runSheet(
        sheetOf(item),
        { library, record, for: item.inputs.ticks * item.inputs.T },
        findings as never[],
      );
      expect(findings.filter((finding) => (finding as { level: string }).level === 'error')).toEqual([]);
      const rows = result?.rows ?? new Float64Array();
      for (const [column, name] of Object.keys(columns).entries())
        for (const [k, want] of (item.expected[name] ?? []).entries())
          expect(Math.abs((rows[k * 4 + column] ?? Number.NaN) - want)).toBeLessThanOrEqual(
            1e-9 * Math.max(1, Math.abs(want)),
          );
    });
});
