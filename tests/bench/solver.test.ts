/**
 * The bench's solver against published initial value problems (tests/reference/07-ode.json: DETEST, ACM Algorithm 648,
 * and others, with the values classical Runge–Kutta gives in exact arithmetic), and its order measured.
 */

import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { describe, expect, test } from 'vitest';
import { compile } from '../../compiler/compile.ts';
import { blankSheet } from '../../compiler/sheet/sheet.ts';
import { openBench } from '../../runtime/bench/bench.ts';

interface Case {
  readonly id: string;
  readonly kind: string;
  readonly inputs: {
    readonly equations: readonly string[];
    readonly states?: readonly string[];
    readonly t_end: number;
    readonly y0: readonly number[];
    readonly params?: Readonly<Record<string, number>>;
  };
  readonly expected: {
    readonly y_end?: readonly number[];
    readonly rk4_by_steps?: Readonly<Record<string, readonly number[]>>;
    readonly observed_order?: readonly number[];
  };
  readonly tolerance: Readonly<Record<string, { readonly rel?: number; readonly abs?: number }>>;
}

const file = JSON.parse(readFileSync(join(import.meta.dirname, '../reference/07-ode.json'), 'utf8')) as {
  cases: Case[];
};
const cases = file.cases.filter((item) => item.kind === 'ode');

/** The equations as a block text; `yi` stands for the middle ones of a chain. */
function blockText(item: Case): { text: string; names: string[] } {
  const { equations, y0, params } = item.inputs;
  const written: string[] = [];
  for (const equation of equations) {
    const chain = /^yi'=(.*), i=(\d+)\.\.(\d+)$/.exec(equation);
    if (chain === null) written.push(equation);
    else
      for (let i = Number(chain[2]); i <= Number(chain[3]); i++)
        written.push(
          `y${i}'=${(chain[1] ?? '')
            .replaceAll('y(i-1)', `y${i - 1}`)
            .replaceAll('y(i+1)', `y${i + 1}`)
            .replaceAll('yi', `y${i}`)}`,
        );
  }
  const names = written.flatMap((equation) => /^(\w+)'=/.exec(equation)?.[1] ?? []);
  const lines = written.map((equation) => {
    const [, name = '', dash, value = ''] = /^(\w+)('?)=(.*)$/.exec(equation) ?? [];
    const timed = value.replace(/\bt\b/g, 'bare(t)');
    return dash === "'" ? `d/dt ${name} = ${timed}` : `${name} = ${timed}`;
  });
  const text = [
    'block problem',
    '  "An initial value problem."',
    'out done',
    ...Object.entries(params ?? {}).map(([name, value]) => `set ${name} = ${value}`),
    ...names.map((name, i) => `state ${name} = ${y0[i]}`),
    ...lines,
    `done = ${names[0]}`,
    '',
  ].join('\n');
  return { text, names };
}

/** End values with so many steps, `steps` of them a tick. */
async function solve(item: Case, ticks: number, stepsPerTick: number): Promise<{ y: number[]; error: number }> {
  const { text, names } = blockText(item);
  const sheet = {
    ...blankSheet(),
    tick: item.inputs.t_end / ticks,
    plant_steps: stepsPerTick,
    blocks: { it: { is: 'problem' } },
    shelf: { problem: text },
  };
  const { value, findings } = compile(sheet, { library: new Map() });
  if (value === undefined) throw new Error(JSON.stringify(findings));
  const bench = await openBench(value, { engine: 'wasm', record: names.map((name) => `it.${name}`) }, []);
  const rows = bench.advance(ticks + 1);
  return { y: [...rows.subarray(rows.length - names.length)], error: bench.plantError };
}

function within(
  got: readonly number[],
  want: readonly number[],
  tolerance: { rel?: number; abs?: number } | undefined,
): void {
  for (const [i, value] of want.entries())
    expect(Math.abs((got[i] ?? Number.NaN) - value)).toBeLessThanOrEqual(
      Math.max(tolerance?.abs ?? 0, (tolerance?.rel ?? 0) * Math.abs(value)),
    );
}

/** Steps at which a fixed step is small enough for the stated tolerance; close encounters ask for more. */
const smallSteps: Readonly<Record<string, number>> = {
  'v-detest-D3': 40_000,
  'v-detest-D5': 400_000,
  'v-arenstorf-half': 1_000_000,
  'v-arenstorf-period': 2_000_000,
};

describe('end values of published problems', () => {
  for (const item of cases)
    test(item.id, async () => {
      const steps = smallSteps[item.id] ?? 20_000;
      const { y, error } = await solve(item, 100, steps / 100);
      within(y, item.expected.y_end ?? [], item.tolerance.y_end);
      expect(error).toBeGreaterThan(0);
      expect(error).toBeLessThan(1e-4);
    });
});

describe('classical Runge–Kutta, step by step, and its order', () => {
  for (const item of cases) {
    const byStep = Object.entries(item.expected.rk4_by_steps ?? {});
    if (byStep.length === 0) continue;
    test(item.id, async () => {
      const errors: number[] = [];
      for (const [steps, want] of byStep) {
        const { y } = await solve(item, Number(steps), 1);
        within(y, want, item.tolerance.rk4_by_steps);
        errors.push(Math.max(...y.map((value, i) => Math.abs(value - (item.expected.y_end?.[i] ?? 0)))));
      }
      for (const [i, want] of (item.expected.observed_order ?? []).entries())
        expect(Math.abs(Math.log2((errors[i] ?? 0) / (errors[i + 1] ?? 1)) - want)).toBeLessThanOrEqual(0.02);
    });
  }
});
