/** `locus`: where the closed-loop poles are for each gain, and what shapes the way there. */

import { edgeCrossings } from '../../../compiler/linear/crossings.ts';
import { curveOf } from '../../../compiler/linear/curve.ts';
import { factored } from '../../../compiler/linear/factored.ts';
import { locus as locusOf } from '../../../compiler/linear/locus.ts';
import { arrivals, asymptotes, breakaways, departures } from '../../../compiler/linear/locus_landmarks.ts';
import { openLoop } from '../../../compiler/linear/response.ts';
import { checkTransfer, transferFinding } from '../../../compiler/linear/transfer_check.ts';
import { type Answer, Refusal, refusedBy } from '../answer.ts';
import { complexText, figures } from '../figures.ts';
import { numberList, type TransferOptions, transferArgument } from '../transfer_arguments.ts';

/** Closed-loop poles of the transfer function that the options say, at each of the gains. */
export function locus(given: TransferOptions & { readonly gains?: string }): Answer {
  const system = transferArgument(given);
  if (given.gains === undefined) {
    throw new Refusal('--gains is missing; write gains with commas between, such as --gains 0.5,1,2');
  }
  const gains = numberList('--gains', given.gains);
  const wrong = gains.find((gain) => !Number.isFinite(gain));
  const findings = checkTransfer(system);
  if (findings.length > 0) return refusedBy('loopwright', findings);
  if (wrong !== undefined)
    return refusedBy('loopwright', [transferFinding('locus_bad_gain', { given: `${wrong}` }, 'gains')]);
  const { poles } = locusOf(system, gains);
  const parts = factored(system);
  const loop = openLoop(system);
  const crossings = edgeCrossings(loop, curveOf(loop));
  const lines = gains.map((gain, i) => `${gain}: ${(poles[i] ?? []).map(complexText).join(', ')}`);
  for (const { w, gain } of crossings)
    lines.push(`on the edge of stability at ${figures(w)} rad/s for a gain of ${figures(gain)}`);
  return {
    status: 0,
    data: {
      gains,
      poles,
      breakaways: breakaways(system),
      crossings,
      asymptotes: asymptotes(parts) ?? null,
      departures: departures(parts),
      arrivals: arrivals(parts),
    },
    text: lines.join('\n'),
  };
}
