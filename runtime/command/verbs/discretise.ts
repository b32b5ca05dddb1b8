/** `discretise`: what a system in s becomes when it answers once a sample. */

import { compareAt } from '../../../compiler/linear/discrete_comparison.ts';
import { discretise as discreteOf, type Method } from '../../../compiler/linear/discretise.ts';
import { transferFinding } from '../../../compiler/linear/transfer_check.ts';
import { type Answer, Refusal, refusedBy } from '../answer.ts';
import {
  frequencyArgument,
  frequencyList,
  type TransferOptions,
  timeArgument,
  transferArgument,
} from '../transfer_arguments.ts';

export interface DiscretiseOptions extends TransferOptions {
  readonly method: Method;
  readonly prewarp?: string;
  /** Frequencies at which it is compared with the design. */
  readonly at?: string;
}

/** The discrete equivalent of the transfer function that the options say. */
export function discretise({ num, den, dt, method, prewarp, at }: DiscretiseOptions): Answer {
  const system = transferArgument({ ...(num === undefined ? {} : { num }), ...(den === undefined ? {} : { den }) });
  if (dt === undefined) throw new Refusal('--dt is missing; write the time between samples, such as --dt 5ms');
  if (prewarp !== undefined && method !== 'tustin') {
    throw new Refusal(`--prewarp belongs to --method tustin, not to ${method}; leave it out or take tustin`);
  }
  const warp = prewarp === undefined ? undefined : frequencyArgument('--prewarp', prewarp);
  const { value, findings } = discreteOf(system, timeArgument('--dt', dt), method, warp);
  if (value === undefined) return refusedBy('loopwright', findings);
  const list = (name: string, coefficients: readonly number[]) => `${name} ${coefficients.join(', ')}`;
  const compared = at === undefined ? undefined : compareAt(system, value, frequencyList('--at', at));
  const beside = compared?.find(({ gain }) => gain === null);
  if (beside !== undefined)
    return refusedBy('loopwright', [transferFinding('response_on_a_pole', { at: `${beside.w}` }, '--at')]);
  const lines = (compared ?? []).map(
    ({ w, gain, phase }) =>
      `${w} rad/s: gain × ${gain?.toPrecision(6)}, phase ${(phase ?? 0).toFixed(3)}° from the design`,
  );
  return {
    status: 0,
    data: { num: value.num, den: value.den, dt: value.dt, ...(compared === undefined ? {} : { compared }) },
    text: ['in descending powers of z:', list('num', value.num), list('den', value.den), ...lines].join('\n'),
  };
}
