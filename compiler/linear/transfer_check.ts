/** What keeps a transfer function from being worked on, as findings. */

import type { Finding } from '../findings.ts';
import { degree } from './polynomial.ts';
import type { OpenLoop, TransferFunction } from './system.ts';

/** The most coefficients that are looked at. */
export const MOST_COEFFICIENTS = 200;

export function transferFinding(id: string, facts: Finding['facts'] = {}, path = ''): Finding {
  return { id, level: 'error', at: { path }, facts };
}

/** What is wrong with a transfer function; nothing where it can be worked on. */
export function checkTransfer({ num, den, dt, delay }: TransferFunction): readonly Finding[] {
  const findings: Finding[] = [];
  for (const [path, list] of [
    ['num', num],
    ['den', den],
  ] as const) {
    if (list.length === 0) findings.push(transferFinding('transfer_empty', {}, path));
    else if (!list.every(Number.isFinite)) findings.push(transferFinding('transfer_not_finite', {}, path));
    else if (list.length > MOST_COEFFICIENTS) {
      findings.push(transferFinding('transfer_too_long', { most: `${MOST_COEFFICIENTS}` }, path));
    }
  }
  if (findings.length > 0) return findings;
  if (!(dt >= 0) || !Number.isFinite(dt)) return [transferFinding('transfer_bad_step', { given: `${dt}` }, 'dt')];
  if (!(delay >= 0) || !Number.isFinite(delay)) {
    return [transferFinding('transfer_bad_delay', { given: `${delay}` }, 'delay')];
  }
  const [top, bottom] = [degree(num), degree(den)];
  if (bottom < 0) return [transferFinding('transfer_no_denominator', {}, 'den')];
  if (top < 0) return [transferFinding('transfer_no_gain', {}, 'num')];
  if (top > bottom) {
    return [
      transferFinding('transfer_improper', { num: `${top}`, den: `${bottom}`, variable: dt === 0 ? 's' : 'z' }, 'num'),
    ];
  }
  return [];
}

/** What keeps a loop from being closed or counted around, beyond what is wrong with its parts. */
export function checkLoop(loop: OpenLoop): readonly Finding[] {
  if (loop.dt > 0 && loop.delay > 0) {
    return [transferFinding('loop_delay_not_whole', { delay: `${loop.delay}`, dt: `${loop.dt}` }, 'delay')];
  }
  if (Math.abs(1 + loop.direct) < 1e-12) return [transferFinding('loop_without_answer', {}, 'loop')];
  return [];
}
