/** Cascaded loops against tests/reference/03-nested-loops.json (mpmath; plants as each case says). */

import { describe, expect, test } from 'vitest';
import { factored } from '../../../compiler/linear/factored.ts';
import { feedback, series } from '../../../compiler/linear/feedback.ts';
import { margins } from '../../../compiler/linear/margins.ts';
import { product } from '../../../compiler/linear/polynomial.ts';
import { openLoop } from '../../../compiler/linear/response.ts';
import { roots } from '../../../compiler/linear/roots.ts';
import type { Complex, TransferFunction } from '../../../compiler/linear/system.ts';
import { responseAt } from '../../../compiler/linear/time_response.ts';
import { asked, casesOf, expectList, expectSet, type Pair, sizeOf } from './cases.ts';
import { expectAnswer, expectMargins, type WantedMargins } from './margin_cases.ts';

interface Rational {
  readonly num: readonly number[];
  readonly den: readonly number[];
  readonly poles?: readonly Pair[];
  readonly zeros?: readonly Pair[];
}

type Parts = Readonly<Record<'D1' | 'G1' | 'D2' | 'G2', Rational>>;

interface Answer {
  readonly t: readonly number[];
  readonly y: readonly number[];
}

interface Nested {
  readonly T1: Rational;
  readonly L2: Rational;
  readonly T2: Rational;
  readonly inner_margins: WantedMargins;
  readonly outer_margins: WantedMargins;
  readonly inner_closed_loop_stable: boolean;
  readonly outer_closed_loop_stable: boolean;
  readonly T1_step?: Answer;
  readonly T2_step?: Answer;
}

const system = ({ num, den }: Rational): TransferFunction => ({ num, den, dt: 0, delay: 0 });
const whole: TransferFunction = { num: [1], den: [1], dt: 0, delay: 0 };

function closed(forward: TransferFunction): TransferFunction {
  const { value } = feedback(forward, whole);
  if (value === undefined) throw new Error('the loop can be closed');
  return value;
}

/** Poles and zeros without those that nearly meet: the reference has exact common factors cancelled. */
function minimal({ num, den }: TransferFunction): { poles: Complex[]; zeros: Complex[] } {
  const zeros = roots(num);
  const poles = roots(den).filter((pole) => {
    const twin = zeros.findIndex(
      (zero) => Math.hypot(zero.re - pole.re, zero.im - pole.im) <= 1e-7 * (1 + Math.hypot(pole.re, pole.im)),
    );
    if (twin >= 0) zeros.splice(twin, 1);
    return twin < 0;
  });
  return { poles, zeros };
}

describe.each(casesOf<Parts, Nested>('03-nested-loops.json', 'nested'))('%s', (_, { inputs, expected }) => {
  const { D1, G1, D2, G2 } = inputs;
  const inner = series(system(D1), system(G1));
  const T1 = closed(inner);
  const outer = series(system(D2), T1, system(G2));
  const T2 = closed(outer);
  const innerCancels = factored(inner).zeros.some(({ re, im }) => re === 0 && im === 0);

  test.each([
    ['T1', T1, expected.T1],
    ['L2', outer, expected.L2],
    ['T2', T2, expected.T2],
  ] as const)('poles, zeros and coefficients of %s', (_, got, wanted) => {
    const { poles, zeros } = minimal(got);
    // Where a pole and a zero nearly meet without cancelling, all are kept by the reference too.
    const complete =
      poles.length === wanted.den.length - 1 ? { poles, zeros } : { poles: roots(got.den), zeros: roots(got.num) };
    expectSet(complete.poles, wanted.poles ?? [], (pole) => 1e-8 * Math.max(sizeOf(pole), 1e-6));
    if (wanted.zeros !== undefined)
      expectSet(complete.zeros, wanted.zeros, (zero) => 1e-8 * Math.max(sizeOf(zero), 1e-6));
    if (got.den.length !== wanted.den.length) return;
    const lead = got.den[0] ?? 1;
    expectList(
      got.den.map((c) => c / lead),
      wanted.den,
      1e-9,
      'max',
    );
    expectList(
      got.num.map((c) => c / lead),
      wanted.num,
      1e-9,
      'max',
    );
  });

  test('margins of the inner loop', async () => {
    expectMargins(margins(openLoop(inner)), expected.inner_margins, innerCancels ? 1 : 0);
    const words = ['--num', product(D1.num, G1.num).join(','), '--den', product(D1.den, G1.den).join(',')];
    const { status, data } = await asked('margins', ...words);
    expect(status).toBe(0);
    expectAnswer(data, expected.inner_margins, innerCancels ? 1 : 0);
  });

  test('margins of the outer loop', async () => {
    expectMargins(margins(openLoop(system(expected.L2))), expected.outer_margins);
    const { num, den } = expected.L2;
    const { status, data } = await asked('margins', '--num', num.join(','), '--den', den.join(','));
    expect(status).toBe(0);
    expectAnswer(data, expected.outer_margins);
    expect(data.closedLoopUnstable === 0).toBe(expected.outer_closed_loop_stable);
  });

  test.each([
    ['inner', T1, expected.T1_step],
    ['outer', T2, expected.T2_step],
  ] as const)('step response of the %s loop', (_, got, wanted) => {
    if (wanted === undefined) return;
    const { y } = responseAt(got, 'step', wanted.t);
    wanted.y.forEach((value, i) => {
      expect(Math.abs((y[i] ?? 0) - value)).toBeLessThanOrEqual(Math.max(1e-8 * Math.abs(value), 1e-9));
    });
  });
});
