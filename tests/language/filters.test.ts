/**
 * The shelf's filters against tests/reference: discrete equivalents (mpmath, SciPy), difference equations (mpmath, SciPy)
 * and second-order sections bit for bit (NumPy). Each case names its own source.
 */

import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { describe, expect, test } from 'vitest';
import { play } from './play.ts';

interface Case {
  readonly id: string;
  readonly kind: string;
  readonly checks: string;
  readonly inputs: Readonly<Record<string, unknown>>;
  readonly expected: Readonly<Record<string, unknown>>;
}

function casesOf(file: string, kind: string): readonly (readonly [string, Case])[] {
  const text = readFileSync(join(import.meta.dirname, '../reference', file), 'utf8');
  const { cases } = JSON.parse(text) as { cases: readonly Case[] };
  return cases.filter((each) => each.kind === kind).map((each) => [`${each.id}: ${each.checks}`, each]);
}

/** The published recursion itself, for coefficients in descending powers of z, `den` beginning with 1. */
function recursion(num: readonly number[], den: readonly number[], u: readonly number[]): number[] {
  const lag = den.length - num.length;
  const y: number[] = [];
  for (let n = 0; n < u.length; n++) {
    let sum = 0;
    for (const [k, b] of num.entries()) sum += b * (u[n - k - lag] ?? 0);
    for (const [k, a] of den.entries()) if (k > 0) sum -= a * (y[n - k] ?? 0);
    y.push(sum);
  }
  return y;
}

function expectClose(got: readonly number[], wanted: readonly number[], relative: number): void {
  const size = Math.max(...wanted.map(Math.abs));
  expect(got.length).toBe(wanted.length);
  for (const [i, y] of wanted.entries())
    expect(Math.abs((got[i] ?? Number.NaN) - y), `at ${i}`).toBeLessThanOrEqual(relative * size);
}

const noise = Array.from({ length: 24 }, (_, n) => Math.sin(1.7 * n * n));

describe('transfer_function is its discrete equivalent', () => {
  test.each(casesOf('01-discretisation.json', 'discretise'))('%s', async (_, { inputs, expected }) => {
    const { num, den, T, method } = inputs as { num: number[]; den: number[]; T: number; method: string };
    const prewarp = method === 'prewarp' ? Number(inputs.prewarp_rad_s) : 0;
    const set = { num, den, prewarp, method: prewarp > 0 ? 'tustin' : method };
    const { y } = await play({
      is: 'transfer_function',
      set,
      tick: T,
      inputs: { u: noise },
      ticks: noise.length,
      outputs: ['y'],
    });
    const wanted = recursion(expected.num as number[], expected.den as number[], noise);
    // By zero-order hold, the matrix of a fast fifth-order filter at a slow tick costs some digits.
    expectClose(y ?? [], wanted, method === 'zoh' ? 1e-8 : 1e-9);
  });
});

describe('difference_equation is the published recursion', () => {
  test.each(casesOf('05-time-response.json', 'lfilter').filter(([, { inputs }]) => (inputs.b as []).length <= 20))(
    '%s',
    async (_, { inputs, expected }) => {
      const { a, b, u } = inputs as { a: number[]; b: number[]; u: number[] };
      const length = Math.max(a.length, b.length);
      const padded = (list: number[]): number[] => [...list, ...new Array<number>(length - list.length).fill(0)];
      const set = { num: padded(b), den: padded(a) };
      const { y } = await play({
        is: 'difference_equation',
        set,
        tick: 0.01,
        inputs: { u },
        ticks: u.length,
        outputs: ['y'],
      });
      expectClose(y ?? [], expected.y as number[], 1e-12);
    },
  );

  for (const [number, kind] of [
    ['f64', 'biquad_f64'],
    ['f32', 'biquad_f32'],
  ] as const)
    test.each(casesOf('05-time-response.json', kind))('%s, bit for bit', async (_, { inputs, expected }) => {
      const { sections, u } = inputs as { sections: number[][]; u: number[] };
      let signal = u;
      for (const [b0 = 0, b1 = 0, b2 = 0, a1 = 0, a2 = 0] of sections) {
        const set = { num: [b0, b1, b2], den: [1, a1, a2] };
        const played = await play({
          is: 'difference_equation',
          set,
          tick: 0.01,
          number,
          inputs: { u: signal },
          ticks: u.length,
          outputs: ['y'],
        });
        signal = played.y ?? [];
      }
      const view = new DataView(new ArrayBuffer(8));
      const bits = signal.map((y) => {
        if (number === 'f64') view.setFloat64(0, y);
        else view.setFloat32(0, y);
        const digits = number === 'f64' ? view.getBigUint64(0).toString(16) : view.getUint32(0).toString(16);
        return `0x${digits.padStart(number === 'f64' ? 16 : 8, '0')}`;
      });
      expect(bits).toEqual(expected.y_hex);
    });
});

describe('the other filters are what their laws say', () => {
  const u = [0, ...noise];

  test.each(casesOf('06-filters.json', 'lowpass1'))(
    'low_pass prewarped by hand, %s',
    async (_, { inputs, expected }) => {
      const { fc_hz, T } = inputs as { fc_hz: number; T: number };
      const { a, b0, b1 } = (expected as Record<string, Record<string, number>>).prewarped_bilinear ?? {};
      const corner = (2 / T) * Math.tan(Math.PI * fc_hz * T);
      const { y } = await play({
        is: 'low_pass',
        set: { corner },
        tick: T,
        inputs: { u },
        ticks: u.length,
        outputs: ['y'],
      });
      expectClose(y ?? [], recursion([b0 ?? 0, b1 ?? 0], [1, -(a ?? 0)], u), 1e-11);
    },
  );

  test.each(casesOf('06-filters.json', 'lowpass2'))('second_order_low_pass, %s', async (_, { inputs, expected }) => {
    const { wn, zeta, T } = inputs as { wn: number; zeta: number; T: number };
    const corner = (2 / T) * Math.tan((wn * T) / 2);
    const set = { corner, damping: zeta };
    const { y } = await play({
      is: 'second_order_low_pass',
      set,
      tick: T,
      inputs: { u },
      ticks: u.length,
      outputs: ['y'],
    });
    expectClose(y ?? [], recursion(expected.num as number[], expected.den as number[], u), 1e-10);
  });

  test.each(casesOf('06-filters.json', 'biquad_cookbook').filter(([name]) => name.endsWith(' notch')))(
    'notch, %s',
    async (_, { inputs, expected }) => {
      const { fs_hz, f0_hz, Q, BW } = inputs as { fs_hz: number; f0_hz: number; Q?: number; BW?: number };
      const w = (2 * Math.PI * f0_hz) / fs_hz;
      // The Audio EQ Cookbook's own relation of bandwidth in octaves to Q at a centre w.
      const q = Q ?? 1 / (2 * Math.sinh(((Math.LN2 / 2) * (BW ?? 0) * w) / Math.sin(w)));
      const set = { centre: 2 * Math.PI * f0_hz, width: 1 / q };
      const { y } = await play({ is: 'notch', set, tick: 1 / fs_hz, inputs: { u }, ticks: u.length, outputs: ['y'] });
      expectClose(y ?? [], recursion(expected.b as number[], expected.a as number[], u), 1e-9);
    },
  );

  test('complementary, alpha form (common practice)', async () => {
    const [[, published] = []] = casesOf('06-filters.json', 'complementary');
    const { inputs, expected } = published as Case;
    const { alpha, dt, rate, angle_meas } = inputs as {
      alpha: number;
      dt: number;
      rate: number[];
      angle_meas: number[];
    };
    const corner = (1 / alpha - 1) / dt;
    const inputsNow = { rate, angle: angle_meas };
    const { estimate } = await play({
      is: 'complementary',
      set: { corner },
      tick: dt,
      inputs: inputsNow,
      ticks: rate.length,
      outputs: ['estimate'],
    });
    expectClose(estimate ?? [], expected?.angle as number[], 1e-12);
  });

  test('lead_lag is the transfer function with its zero and pole', async () => {
    const lead = await play({
      is: 'lead_lag',
      set: { gain: -3, zero: 4, pole: 25 },
      tick: 0.02,
      inputs: { u },
      ticks: u.length,
      outputs: ['y'],
    });
    const plain = await play({
      is: 'transfer_function',
      set: { num: [-3 / 4, -3], den: [1 / 25, 1] },
      tick: 0.02,
      inputs: { u },
      ticks: u.length,
      outputs: ['y'],
    });
    expectClose(lead.y ?? [], plain.y ?? [], 1e-12);
  });

  test('with its track wired, a transfer function follows what really happened, as lead_lag does', async () => {
    const track = noise.map((value) => 0.3 * value);
    const ticks = noise.length;
    const lead = await play({
      is: 'lead_lag',
      set: { gain: 2, zero: 4, pole: 25 },
      tick: 0.02,
      inputs: { u: noise, track },
      ticks,
      outputs: ['y'],
    });
    const set = { num: [2 / 4, 2], den: [1 / 25, 1] };
    const plain = await play({
      is: 'transfer_function',
      set,
      tick: 0.02,
      inputs: { u: noise, track },
      ticks,
      outputs: ['y'],
    });
    expectClose(lead.y ?? [], plain.y ?? [], 1e-12);
  });

  test.each(['tustin', 'zoh', 'forward', 'backward'])('state_space by %s is the transfer function', async (method) => {
    const set = {
      A: [
        [0, 1],
        [-20, -3],
      ],
      B: [[0], [1]],
      C: [[5, 2]],
      D: [[0.5]],
      method,
    };
    const num = [0.5, 0.5 * 3 + 2, 0.5 * 20 + 5];
    const options = { tick: 0.05, inputs: { u: noise }, ticks: noise.length, outputs: ['y'] };
    const states = await play({ is: 'state_space', set, ...options });
    const plain = await play({ is: 'transfer_function', set: { num, den: [1, 3, 20], method }, ...options });
    expectClose(states.y ?? [], plain.y ?? [], 1e-12);
  });
});

describe('slow poles in single precision', () => {
  const ticks = 90_000;
  const options = { tick: 0.001, number: 'f32', inputs: { u: [0, 1] }, ticks, outputs: ['y'] } as const;

  test.each([
    ['second_order_low_pass', { corner: 2 * Math.PI * 0.05 }],
    ['transfer_function', { num: [0.0987], den: [1, 0.4443, 0.0987] }],
    [
      'state_space',
      {
        A: [
          [0, 1],
          [-0.0987, -0.4443],
        ],
        B: [[0], [1]],
        C: [[0.0987, 0]],
        D: [[0]],
      },
    ],
  ])('%s at 0.05 Hz and 1 kHz comes to rest at its input', async (is, set) => {
    const { y } = await play({ is, set, ...options });
    expect(y?.at(-1)).toBeGreaterThan(0.9995);
    expect(y?.at(-1)).toBeLessThan(1.0005);
  });
});
