/** Filters in 32 bits: what is lost is said, and what a block keeps is really kept. */

import { describe, expect, test } from 'vitest';
import { library } from '../../blocks/library.ts';
import { compile } from '../../compiler/compile.ts';
import { blankSheet, type SettingValue, type Sheet } from '../../compiler/sheet/sheet.ts';
import { runSheet } from '../../runtime/bench/run.ts';

const T = 0.001;
const corner = 2 * Math.PI * 0.05;

function sheetOf(is: string, set: Readonly<Record<string, SettingValue>>): Sheet {
  const blocks = { s: { is: 'step', set: { size: 1 } }, it: { is, set } };
  return { ...blankSheet('A slow filter'), tick: '1 ms', number: 'f32', blocks, wires: { 'it.u': 's.y' } };
}

/** Tustin's equivalent of ω²/(s² + √2·ω·s + ω²), worked out here at 64 bits. */
function butterworth(): { num: number[]; den: number[] } {
  const k = (corner * T) / 2;
  const all = 1 + Math.SQRT2 * k + k * k;
  const b = (k * k) / all;
  return { num: [b, 2 * b, b], den: [1, (2 * k * k - 2) / all, (1 - Math.SQRT2 * k + k * k) / all] };
}

const lossOf = (sheet: Sheet) =>
  compile(sheet, { library }).findings.find((finding) => finding.id === 'filter_off')?.facts;

async function finalValue(sheet: Sheet): Promise<number> {
  const result = await runSheet(sheet, { library, record: ['it.y'], for: '60 s' }, []);
  return result?.rows.at(-1) ?? Number.NaN;
}

describe('a second-order low-pass of 0.05 Hz at 1 kHz', () => {
  test('as a difference equation is not what was designed, and the finding gives the gain it really has', async () => {
    const sheet = sheetOf('difference_equation', butterworth());
    const said = Number(lossOf(sheet)?.gain);
    // Coefficients rounded to single precision, summed here: b(1)/a(1).
    const { num, den } = butterworth();
    const sum = (list: readonly number[]) => list.map(Math.fround).reduce((a, b) => a + b, 0);
    expect(said).toBeCloseTo(sum(num) / sum(den), 2);
    expect(lossOf(sheet)?.wanted).toBe('1');
    expect(lossOf({ ...sheet, number: 'f64' })).toBeUndefined();
    expect(Math.abs((await finalValue(sheet)) - 1)).toBeGreaterThan(0.1);
  });

  for (const [is, set] of [
    ['second_order_low_pass', { corner: `${corner} rad/s` }],
    ['transfer_function', { num: [corner ** 2], den: [1, Math.SQRT2 * corner, corner ** 2] }],
  ] as const)
    test(`as ${is} reaches its final value`, async () => {
      const sheet = sheetOf(is, set as Readonly<Record<string, SettingValue>>);
      expect(lossOf(sheet)).toBeUndefined();
      expect(Math.abs((await finalValue(sheet)) - 1)).toBeLessThan(1e-3);
    });
});

test('integrators, leads and the samples lose nothing', () => {
  expect(lossOf(sheetOf('integrator', { gain: 0.01 }))).toBeUndefined();
  expect(lossOf(sheetOf('lead_lag', { zero: '6 rad/s', pole: '12 rad/s', gain: -5e-4 }))).toBeUndefined();
});
