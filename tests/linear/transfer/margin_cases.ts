/** Margins as the reference cases say them, compared within their stated tolerances. */

import { expect } from 'vitest';
import type { Margins } from '../../../compiler/linear/margins.ts';
import { expectList, expectNear } from './cases.ts';

export interface WantedMargins {
  readonly gain_crossovers: readonly { readonly w: number; readonly pm_deg: number }[];
  readonly phase_crossovers: readonly { readonly w: number; readonly gm: number }[];
  readonly gm_increase: number | null;
  readonly gm_decrease: number | null;
  readonly delay_margin_s: number | null;
  readonly Ms: number;
  readonly w_Ms: number | null;
  readonly modulus_margin: number;
  readonly Mt?: number;
  readonly w_Mt?: number | null;
  readonly open_loop_unstable: number;
  readonly open_loop_on_boundary: number;
  readonly closed_loop_unstable: number;
  readonly encirclements_cw: number;
}

/** `hidden`: poles on the edge that the response does not show, which the reference has cancelled. */
export function expectMargins(got: Margins, wanted: WantedMargins, hidden = 0): void {
  expectAnswer({ ...got }, wanted, hidden);
  expect(got.countAgrees).not.toBe(false);
}

/** The same for the command's JSON, whose names are those of the contract. */
export function expectAnswer(data: Readonly<Record<string, unknown>>, wanted: WantedMargins, hidden = 0): void {
  const number = (name: string) => data[name] as number | null;
  const list = (name: string) => data[name] as number[];
  expectList(
    list('crossovers'),
    wanted.gain_crossovers.map(({ w }) => w),
    1e-8,
  );
  expectList(
    list('phaseMargins'),
    wanted.gain_crossovers.map(({ pm_deg }) => pm_deg),
    0,
    undefined,
    1e-6,
  );
  expectList(
    list('phaseCrossovers'),
    wanted.phase_crossovers.map(({ w }) => w),
    1e-8,
  );
  expectList(
    list('gainMargins'),
    wanted.phase_crossovers.map(({ gm }) => gm),
    1e-8,
  );
  const interval = data.gainInterval as [number, number | null] | null;
  if (wanted.closed_loop_unstable > 0) expect(interval).toBeNull();
  else {
    expectNear(interval?.[0], wanted.gm_decrease ?? 0, 1e-8, 0, 'gains down to');
    expectNear(interval?.[1], wanted.gm_increase, 1e-8, 0, 'gains up to');
  }
  expectNear(number('delayMargin'), wanted.delay_margin_s, 1e-7, 0, 'delay margin');
  expectNear(number('modulusMargin'), wanted.modulus_margin, 1e-8, 0, 'modulus margin');
  expectNear(number('peakSensitivity'), wanted.Ms, 1e-8, 0, 'peak sensitivity');
  expectNear(number('peakSensitivityAt'), wanted.w_Ms, 1e-4, 0, 'where');
  if (wanted.Mt !== undefined) {
    expectNear(number('peakComplementary'), wanted.Mt, 1e-8, 0, 'complementary peak');
    expectNear(number('peakComplementaryAt'), wanted.w_Mt ?? null, 1e-4, 0, 'where');
  }
  expect(number('openLoopUnstable')).toBe(wanted.open_loop_unstable);
  expect(number('openLoopOnEdge')).toBe(wanted.open_loop_on_boundary + hidden);
  expect(number('closedLoopUnstable')).toBe(wanted.closed_loop_unstable);
  expect(number('encirclements')).toBe(wanted.encirclements_cw);
}
