/** `margins`: how far a loop is from the edge of stability, from its transfer function. */

import { type Margins, margins as marginsOf } from '../../../compiler/linear/margins.ts';
import { loopOf } from '../../../compiler/linear/periodic.ts';
import { openLoop } from '../../../compiler/linear/response.ts';
import { sheetMargins } from '../../../compiler/linear/sheet_margins.ts';
import type { OpenLoop } from '../../../compiler/linear/system.ts';
import { checkLoop, checkTransfer, transferFinding } from '../../../compiler/linear/transfer_check.ts';
import { type Answer, findingsData, messagesOf, refusedBy } from '../answer.ts';
import { isAnswer } from '../design.ts';
import { groundsOf, openModel, type SheetArguments } from '../sheet_linear.ts';
import { type TransferOptions, transferArgument } from '../transfer_arguments.ts';

/** Margins of the loop with the transfer function that the options say. */
export function margins(given: TransferOptions): Answer {
  const system = transferArgument(given);
  const findings = checkTransfer(system);
  return findings.length > 0 ? refusedBy('loopwright', findings) : marginsAnswer(openLoop(system), 'loopwright');
}

/** Margins of a sheet's loop, cut at a wire: timing, rates and all, about a point of rest. */
export function sheetMarginsAt(file: string, cut: string, given: Pick<SheetArguments, 'hold' | 'set'>): Answer {
  const model = openModel(file, { from: [cut], to: [cut], cut: [cut], ...given });
  if (isAnswer(model)) return model;
  const answer = marginsAnswer(loopOf(model), file, () => sheetMargins(model));
  const rest = Object.fromEntries(model.rest.map(({ name, value }) => [name, value]));
  return {
    ...answer,
    data: { ...answer.data, sample: model.sample, rest, assumed: model.assumed },
    ...(answer.text === undefined ? {} : { text: [answer.text, ...groundsOf(model)].join('\n') }),
  };
}

/** Margins of a loop as an answer; `about` is the file it comes from, or `loopwright`. */
export function marginsAnswer(loop: OpenLoop, about: string, made = () => marginsOf(loop)): Answer {
  const findings = checkLoop(loop);
  if (findings.length > 0) return refusedBy(about, findings);
  const found = made();
  const data = { ...found };
  if (found.onEdgeAt !== null || found.modulusMargin === 0) {
    const at = found.onEdgeAt === null ? 'infinite' : found.onEdgeAt.toPrecision(6);
    const edge = [transferFinding('loop_on_the_edge', { at }, 'loop')];
    return { status: 1, data: { ...data, findings: findingsData(edge) }, messages: messagesOf(about, edge) };
  }
  return { status: 0, data, text: text(found) };
}

function text(found: Margins): string {
  const lines = [
    found.closedLoopUnstable === 0
      ? 'closed, the loop is stable'
      : `closed, the loop is unstable: ${found.closedLoopUnstable ?? 'endlessly many'} poles beyond the edge`,
    `open: ${found.openLoopUnstable} poles beyond the edge of stability, ${found.openLoopOnEdge} on it; encirclements of −1: ${found.encirclements ?? 'endless'}`,
  ];
  if (found.countAgrees === false) {
    lines.push('what is counted along the response and the closed-loop poles differ; the poles are what counts');
  }
  found.crossovers.forEach((w, i) => {
    lines.push(`crosses over at ${short(w)} rad/s with a phase margin of ${short(found.phaseMargins[i] ?? 0)}°`);
  });
  found.phaseCrossovers.forEach((w, i) => {
    lines.push(`crosses −180° at ${short(w)} rad/s, ${short(found.gainMargins[i] ?? 0)} in gain from −1`);
  });
  if (found.gainInterval !== null) {
    const [low, high] = found.gainInterval;
    lines.push(`stays stable for gains times ${short(low)} to ${high === null ? 'any number' : short(high)}`);
    lines.push(
      `stays stable for ${found.delayMargin === null ? 'any' : `${short(found.delayMargin)} s of`} further dead time`,
    );
  }
  if (found.peakSensitivity !== null) {
    const at = found.peakSensitivityAt === null ? 'infinite frequency' : `${short(found.peakSensitivityAt)} rad/s`;
    lines.push(
      `modulus margin ${short(found.modulusMargin)}, peak sensitivity ${short(found.peakSensitivity)} at ${at}`,
    );
  }
  return lines.join('\n');
}

function short(value: number): string {
  return `${Number(value.toPrecision(6))}`;
}
