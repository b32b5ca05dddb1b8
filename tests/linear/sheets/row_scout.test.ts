/** The row scout's linear models against SciPy's poles and against swept sines and growth in the compiled, nonlinear simulation. */

import { Matrix, solve } from 'ml-matrix';
import { describe, expect, test } from 'vitest';
import { eigenvalues } from '../../../compiler/linear/eigenvalues.ts';
import { factoredOf } from '../../../compiler/linear/factored.ts';
import { connected, withoutFree } from '../../../compiler/linear/minimal.ts';
import { responseOf } from '../../../compiler/linear/periodic.ts';
import { sheetMargins } from '../../../compiler/linear/sheet_margins.ts';
import type { Complex } from '../../../compiler/linear/system.ts';
import type { SettingValue, Sheet } from '../../../compiler/sheet/sheet.ts';
import { bench, column, fineEncoders, loopAt, marginsAt, model, rowScout, smooth } from './sample_loop.ts';

const upright = { 'body.lean': 0 };
const tick = 0.005;

test('open-loop poles at upright are those SciPy 1.10 gives, friction neglected', () => {
  const { system } = model(rowScout(smooth), {
    from: ['motor.command'],
    to: ['body.lean'],
    cut: ['motor.command'],
    hold: { ...upright, 'motor.command': 0 },
  });
  const { poles, zeros } = factoredOf(withoutFree(connected(system)));
  // Computed with SciPy 1.10 from the equations in samples/row_scout/README.md.
  const published = [7.81889, -4.24516, -8.2449];
  expect(poles.map(({ re }) => Number(re.toFixed(5))).sort((a, b) => b - a)).toEqual(published);
  expect(zeros).toHaveLength(1);
  expect(Math.abs(zeros[0]?.re ?? 1)).toBeLessThan(1e-12);
});

// The figures in samples/row_scout/README.md, computed with NumPy apart from this project; bearing friction neglected.
const frictionless = { 'bearing.coulomb': 0, 'bearing.viscous': 0 };
const tired = { ...frictionless, 'battery.full': 10 };
const late: Sheet = { ...rowScout(frictionless), outputs: 'next_tick' };
test.each([
  ['inner, 12 V', rowScout(frictionless), ['drive.u', 'outer.speed'], 22.9, 66.9, 1.1],
  ['inner, 10 V', rowScout(tired), ['drive.u', 'outer.speed'], 18.6, 64.7, 1.09],
  ['inner, one tick late', late, ['drive.u', 'outer.speed'], 22.9, 60.3, 1.25],
  ['outer, 12 V', rowScout(frictionless), ['outer.speed'], 1.02, 74.2, 1.77],
  ['outer, 10 V', rowScout(tired), ['outer.speed'], 1.18, 71.5, 1.61],
] as const)('margins as NumPy gives them: %s', (_, sheet, cut, w, phase, peak) => {
  const [wire] = cut;
  const found = sheetMargins(model(sheet, { from: [wire], to: [wire], cut, hold: upright }));
  expect(found.crossovers).toHaveLength(1);
  expect(Number(found.crossovers[0]?.toPrecision(3))).toBe(w);
  expect(Math.abs((found.phaseMargins[0] ?? 0) - phase)).toBeLessThan(0.06);
  expect(Number(found.peakSensitivity?.toPrecision(3))).toBe(peak);
  expect(found.closedLoopUnstable).toBe(0);
});

test.each([
  ['12 V', rowScout(frictionless), 0.4, 31],
  ['10 V', rowScout(tired), 0.48, 37],
  ['one tick late', late, 0.4, 3.4],
] as const)(
  'gains that keep the inner loop stable, the outer one closed, as NumPy gives them: %s',
  (_, sheet, low, high) => {
    const { gainInterval } = marginsAt(sheet, 'drive.u', upright);
    expect(gainInterval?.map((end) => Number(end?.toPrecision(2)))).toEqual([low, high]);
  },
);

test('a wire cut inside the plant of a sampled loop is told to be only nearly the wire', () => {
  const heldAt = (cut: string) => model(rowScout(), { from: [cut], to: [cut], cut: [cut], hold: upright }).heldWires;
  expect(heldAt('bearing.speed')).toEqual(['bearing.speed']);
  for (const wire of ['gyro.truth', 'motor.command', 'drive.u']) expect(heldAt(wire)).toEqual([]);
});

describe('poles of the loops, in z', () => {
  test('with the inner loop closed exactly one at 1, all others inside', () => {
    const { system } = model(rowScout(), {
      from: ['inner.wanted'],
      to: ['wheel.speed'],
      cut: ['inner.wanted'],
      hold: upright,
    });
    const sizes = eigenvalues(withoutFree(system).A).map(({ re, im }) => Math.hypot(re, im));
    expect(sizes.filter((size) => Math.abs(size - 1) <= 1e-9)).toHaveLength(1);
    expect(sizes.filter((size) => size > 1 - 1e-9)).toHaveLength(1);
  });

  test('with the outer loop closed too all inside', () => {
    const { system } = model(rowScout(), { from: ['inner.wanted'], to: ['wheel.speed'], hold: upright });
    const sizes = eigenvalues(withoutFree(system).A).map(({ re, im }) => Math.hypot(re, im));
    expect(Math.max(...sizes)).toBeLessThan(1 - 1e-3);
  });
});

/** Ticks of a window that holds whole periods of every frequency, and of the outer loop. */
const WINDOW = 2000;
const WAIT = 9000;
/** Periods in a window: 0.1 to 23.3 Hz. */
const SWEEP = [1, 2, 3, 5, 8, 13, 21, 34, 55, 89, 144, 233];

/** Ticks of a period of the whole sheet: a sine comes back at so many frequencies. */
const ROUND = 5;

/**
 * L at a wire at the fundamental, from sines added behind the cut of the closed loop. A loop of several rates answers one sine with
 * several, apart by the period's frequency; so each of them is sent in turn, and what comes back over what is read is solved for.
 */
async function swept(source: string, reader: string, sheet: Sheet, size: number): Promise<Complex[]> {
  const found: Complex[] = [];
  for (const periods of SWEEP) {
    const aliases = Array.from({ length: ROUND }, (_, m) => periods + (m * WINDOW) / ROUND);
    const back: Complex[][] = [];
    const read: Complex[][] = [];
    for (const sent of aliases) {
      const [sine, cosine] = [
        await answered(source, reader, sheet, size, sent, 0),
        await answered(source, reader, sheet, size, sent, Math.PI / 2),
      ];
      // Of a cosine and i times a sine together: e^(iωk), one frequency and not its mirror image.
      const own = aliases.map((at) => {
        const [c, s] = [component(cosine, at), component(sine, at)];
        return { re: c.re - s.im, im: c.im + s.re };
      });
      back.push(own);
      read.push(own.map(({ re, im }, i) => ({ re: re + (aliases[i] === sent ? size : 0), im })));
    }
    found.push(firstOf(back, read));
  }
  return found;
}

/** What comes back, tick by tick, over the last window. */
async function answered(
  source: string,
  reader: string,
  sheet: Sheet,
  size: number,
  periods: number,
  phase: number,
): Promise<Float64Array> {
  const start = 3000;
  const sine = Array.from({ length: WAIT + WINDOW }, (_, k) => ({
    tick: start + k,
    do: 'hook' as const,
    hook: 0,
    mode: 1 as const,
    amount: size * Math.sin((2 * Math.PI * periods * (k - WAIT)) / WINDOW + phase),
  }));
  const asking = { tick: 1000, do: 'hook' as const, hook: 1, mode: 2 as const, amount: 1 };
  const run = await bench(sheet, {
    record: [source, 'gate.enabled'],
    hooks: [reader, 'gate.ask'],
    events: [asking, ...sine],
  });
  const before = run.advance(start + WAIT);
  expect(column(before, 2, 1).at(-1)).toBe(1);
  return column(run.advance(WINDOW), 2, 0);
}

/** The component e^(iωk) of a window, with so many periods in it. */
function component(rows: Float64Array, periods: number): Complex {
  let [re, im] = [0, 0];
  for (const [k, value] of rows.entries()) {
    const angle = (2 * Math.PI * periods * k) / WINDOW;
    re += (value * Math.cos(angle)) / WINDOW;
    im -= (value * Math.sin(angle)) / WINDOW;
  }
  return { re, im };
}

/** −(back · read⁻¹) at the fundamental: rows of the arguments are what one sine makes. */
function firstOf(back: readonly Complex[][], read: readonly Complex[][]): Complex {
  const n = read.length;
  // read · l = back's first column, as one real system of twice the size.
  const system = Matrix.zeros(2 * n, 2 * n);
  const right = Matrix.zeros(2 * n, 1);
  for (const [i, row] of read.entries()) {
    for (const [j, { re, im }] of row.entries()) {
      system.set(i, j, re);
      system.set(i, n + j, -im);
      system.set(n + i, j, im);
      system.set(n + i, n + j, re);
    }
    right.set(i, 0, back[i]?.[0]?.re ?? Number.NaN);
    right.set(n + i, 0, back[i]?.[0]?.im ?? Number.NaN);
  }
  const l = solve(system, right);
  return { re: -l.get(0, 0), im: -l.get(n, 0) };
}

function difference(
  sheet: Sheet,
  cut: string,
  measured: readonly { re: number; im: number }[],
): { gain: number; phase: number }[] {
  const loop = loopAt(sheet, cut, upright);
  return SWEEP.map((periods, i) => {
    const { re, im } = loop.at((2 * Math.PI * periods) / (WINDOW * tick));
    const got = measured[i] ?? { re: 0, im: 0 };
    const square = re * re + im * im;
    const ratio = { re: (got.re * re + got.im * im) / square, im: (got.im * re - got.re * im) / square };
    return { gain: Math.hypot(ratio.re, ratio.im) - 1, phase: (Math.atan2(ratio.im, ratio.re) * 180) / Math.PI };
  });
}

describe('a swept sine through the compiled program and the nonlinear plant', () => {
  test('agrees with the inner loop, the outer one closed, at 12 frequencies', { timeout: 120_000 }, async () => {
    const sheet = rowScout(smooth, fineEncoders);
    for (const { gain, phase } of difference(sheet, 'drive.u', await swept('gate.y', 'drive.u', sheet, 2))) {
      expect(Math.abs(gain)).toBeLessThan(0.01);
      expect(Math.abs(phase)).toBeLessThan(1);
    }
  });
});

test('with noise, steps and friction on, a sine sent through the loop differs by what is printed', {
  timeout: 120_000,
}, async () => {
  const sheet = rowScout();
  const { system, samples, sample, ...rest } = model(sheet, { from: ['drive.u'], to: ['gate.y'], hold: upright });
  const at = responseOf({ system, samples, sample, ...rest });
  for (const periods of [5, 13, 34, 55]) {
    const w = (2 * Math.PI * periods) / (WINDOW * tick);
    const size = 8;
    const sine = await answered('gate.y', 'drive.u', sheet, size, periods, 0);
    // Of a sine: its component is size/(2i) times the response.
    const found = component(sine, periods);
    const got = { re: (-2 * found.im) / size, im: (2 * found.re) / size };
    const { re, im } = at(w);
    const square = re * re + im * im;
    const ratio = { re: (got.re * re + got.im * im) / square, im: (got.im * re - got.re * im) / square };
    const gain = Math.hypot(ratio.re, ratio.im);
    const phase = (Math.atan2(ratio.im, ratio.re) * 180) / Math.PI;
    console.log(
      `row scout with noise, steps and friction, ${w.toFixed(1)} rad/s: gain ${((gain - 1) * 100).toFixed(1)} %, phase ${phase.toFixed(1)}° from the linear model`,
    );
    // A wheel that turns is braked by friction otherwise than one at rest, so this is no equality; but it is the same loop.
    expect(gain).toBeGreaterThan(0.5);
    expect(gain).toBeLessThan(2);
    expect(Math.abs(phase)).toBeLessThan(30);
  }
});

/** Whether the lean, armed from the first tick, is larger about `late` than about `early` seconds after the start. */
async function grows(sheet: Sheet, early = 20, late = 180): Promise<boolean> {
  const mode = { tick: 0, do: 'hook' as const, hook: 0, mode: 2 as const, amount: 4 };
  const run = await bench(sheet, { record: ['body.th'], hooks: ['gate.mode'], events: [mode] });
  const peak = (rows: Float64Array): number => rows.reduce((most, value) => Math.max(most, Math.abs(value)), 0);
  const about = (seconds: number): number => {
    run.advance(Math.round((seconds * 0.5) / tick) - run.tick);
    return peak(run.advance(Math.round(seconds / tick)));
  };
  const first = about(early);
  return about(late) > first;
}

const offUpright: Readonly<Record<string, SettingValue>> = { ...smooth, 'body.start': 1e-3 };

describe('where the simulated loop stops being stable', () => {
  const nominal = rowScout(smooth, fineEncoders);

  test('the gain: within 2 % of the predicted low and high end', { timeout: 120_000 }, async () => {
    const { gainInterval } = marginsAt(nominal, 'drive.u', upright);
    const [low, high] = gainInterval ?? [null, null];
    if (low === null || high === null) throw new Error('no interval');
    const at = (gain: number, start: number) =>
      rowScout(
        { ...smooth, 'body.start': start, 'drive.scale': gain, 'drive.high': 1e6, 'drive.low': -1e6 },
        fineEncoders,
      );
    // At the low end it grows slowly, through the wheel's speed; at the high end fast, and a limit soon ends that.
    expect(await grows(at(low * 0.98, 1e-3))).toBe(true);
    expect(await grows(at(low * 1.02, 1e-3))).toBe(false);
    expect(await grows(at(high * 0.98, 1e-6), 0.5, 10)).toBe(false);
    expect(await grows(at(high * 1.02, 1e-6), 0.5, 10)).toBe(true);
  });

  test('the delay: at the predicted number of ticks, and each tick drawn takes one off the delay margin', {
    timeout: 120_000,
  }, async () => {
    const delayed = (ticks: number, set = smooth): Sheet => {
      const sheet = rowScout(set, fineEncoders);
      if (ticks === 0) return sheet;
      const delay = { is: 'dead_time', side: 'controller' as const, set: { delay: `${5 * ticks} ms` } };
      return {
        ...sheet,
        blocks: { ...sheet.blocks, late: delay },
        wires: { ...sheet.wires, 'late.u': 'gate.y', 'drive.u': 'late.y' },
      };
    };
    const now = marginsAt(nominal, 'drive.u', upright).delayMargin ?? 0;
    for (const ticks of [1, 2]) {
      const left = marginsAt(delayed(ticks), 'drive.u', upright).delayMargin ?? 0;
      expect(Math.abs(left - (now - ticks * tick))).toBeLessThan(1e-9);
    }
    const most = Math.floor(now / tick);
    expect(marginsAt(delayed(most), 'drive.u', upright).closedLoopUnstable).toBe(0);
    expect(marginsAt(delayed(most + 1), 'drive.u', upright).closedLoopUnstable).toBeGreaterThan(0);
    expect(await grows(delayed(most, offUpright))).toBe(false);
    expect(await grows(delayed(most + 1, offUpright))).toBe(true);
  });
});
