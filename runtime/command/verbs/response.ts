/** `response`: the frequency response of a transfer function. */

import { responseOf } from '../../../compiler/linear/periodic.ts';
import { response as responseAt } from '../../../compiler/linear/response.ts';
import type { Complex } from '../../../compiler/linear/system.ts';
import { checkTransfer, transferFinding } from '../../../compiler/linear/transfer_check.ts';
import { type Answer, Refusal, refusedBy } from '../answer.ts';
import { isAnswer } from '../design.ts';
import { openModel, type SheetArguments } from '../sheet_linear.ts';
import { frequencyList, type TransferOptions, transferArgument } from '../transfer_arguments.ts';

/** The response of the transfer function that the options say, at the frequencies `at`. */
export function response(given: TransferOptions & { readonly at?: string }): Answer {
  const system = transferArgument(given);
  const frequencies = responseFrequencies(given.at);
  const findings = checkTransfer(system);
  if (findings.length > 0) return refusedBy('loopwright', findings);
  return responseAnswer((w) => responseAt(system, w), frequencies, 'loopwright');
}

/** The response from one port of a sheet to another; of a sheet of several rates, at the frequency itself. */
export function sheetResponse(file: string, given: SheetArguments, at: string | undefined): Answer {
  const frequencies = responseFrequencies(at);
  const model = openModel(file, given);
  return isAnswer(model) ? model : responseAnswer(responseOf(model), frequencies, file);
}

/** The frequencies that `--at` says, in rad/s. */
export function responseFrequencies(at: string | undefined): number[] {
  if (at === undefined)
    throw new Refusal('--at is missing; write frequencies with commas between, such as --at 1,10,2Hz');
  return frequencyList('--at', at);
}

/** A response as an answer; `about` is the file it comes from, or `loopwright`. */
export function responseAnswer(at: (w: number) => Complex, frequencies: readonly number[], about: string): Answer {
  const values = frequencies.map(at);
  const infinite = frequencies.find((_, i) => !Number.isFinite(values[i]?.re) || !Number.isFinite(values[i]?.im));
  if (infinite !== undefined) {
    return refusedBy(about, [transferFinding('response_on_a_pole', { at: `${infinite}` }, '--at')]);
  }
  const magnitudes = values.map(({ re, im }) => Math.hypot(re, im));
  const phases = values.map(({ re, im }) => degrees(Math.atan2(im, re)));
  const lines = frequencies.map((w, i) => {
    const [size = 0, phase = 0] = [magnitudes[i], phases[i]];
    const decibel = size === 0 ? 'nothing' : `${(20 * Math.log10(size)).toFixed(2)} dB`;
    return `${w} rad/s: ${size.toPrecision(6)} (${decibel}), ${phase.toFixed(3)}°`;
  });
  return {
    status: 0,
    data: {
      w: frequencies,
      re: values.map(({ re }) => re),
      im: values.map(({ im }) => im),
      magnitude: magnitudes,
      phase: phases,
    },
    text: lines.join('\n'),
  };
}

/** Degrees in (−180, 180]. */
function degrees(angle: number): number {
  const value = (angle * 180) / Math.PI;
  return value <= -180 ? 180 : value;
}
