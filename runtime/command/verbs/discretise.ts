/** `discretise`: what a system in s becomes when it answers once a sample. */

import { discretise as discreteOf, type Method } from '../../../compiler/linear/discretise.ts';
import { type Answer, Refusal, refusedBy } from '../answer.ts';
import { frequencyArgument, type TransferOptions, timeArgument, transferArgument } from '../transfer_arguments.ts';

export interface DiscretiseOptions extends TransferOptions {
  readonly method: Method;
  readonly prewarp?: string;
}

/** The discrete equivalent of the transfer function that the options say. */
export function discretise({ num, den, dt, method, prewarp }: DiscretiseOptions): Answer {
  const system = transferArgument({ ...(num === undefined ? {} : { num }), ...(den === undefined ? {} : { den }) });
  if (dt === undefined) throw new Refusal('--dt is missing; write the time between samples, such as --dt 5ms');
  if (prewarp !== undefined && method !== 'tustin') {
    throw new Refusal(`--prewarp belongs to --method tustin, not to ${method}; leave it out or take tustin`);
  }
  const warp = prewarp === undefined ? undefined : frequencyArgument('--prewarp', prewarp);
  const { value, findings } = discreteOf(system, timeArgument('--dt', dt), method, warp);
  if (value === undefined) return refusedBy('loopwright', findings);
  const list = (name: string, coefficients: readonly number[]) => `${name} ${coefficients.join(', ')}`;
  return {
    status: 0,
    data: { num: value.num, den: value.den, dt: value.dt },
    text: `in descending powers of z:\n${list('num', value.num)}\n${list('den', value.den)}`,
  };
}
