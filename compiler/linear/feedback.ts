/** Systems in series and loops closed around them, as transfer functions. */

import type { Found } from '../findings.ts';
import { type Double2, double2, product2, sum2, value2 } from './double_double.ts';
import { trimmed } from './polynomial.ts';
import type { TransferFunction } from './system.ts';
import { transferFinding } from './transfer_check.ts';

/** One after the other. All must have the same time between samples. */
export function series(...parts: readonly TransferFunction[]): TransferFunction {
  const times = (lists: readonly (readonly number[])[]) =>
    lists
      .map(fine)
      .reduce(product2, [double2(1)])
      .map(value2);
  return {
    num: times(parts.map(({ num }) => num)),
    den: times(parts.map(({ den }) => den)),
    dt: parts[0]?.dt ?? 0,
    delay: parts.reduce((total, { delay }) => total + delay, 0),
  };
}

/**
 * forward / (1 + forward·back): from a reference to the output with the controller and the plant forward and 1 back; from
 * a disturbance to the output with what it passes forward and the rest of the loop back. Nothing cancels.
 */
export function feedback(forward: TransferFunction, back: TransferFunction): Found<TransferFunction> {
  if (forward.delay > 0 || back.delay > 0) {
    return { value: undefined, findings: [transferFinding('closed_with_delay', {}, 'delay')] };
  }
  const [upper, lower] = [fine(forward.num), fine(forward.den)];
  const [backUpper, backLower] = [fine(back.num), fine(back.den)];
  const den = sum2(product2(lower, backLower), product2(upper, backUpper)).map(value2);
  if (den[0] === 0) return { value: undefined, findings: [transferFinding('loop_without_answer', {}, 'loop')] };
  const num = product2(upper, backLower).map(value2);
  return { value: { num: trimmed(num), den, dt: forward.dt, delay: 0 }, findings: [] };
}

function fine(list: readonly number[]): Double2[] {
  return trimmed(list).map(double2);
}
