/** `margins`: how far a loop is from the edge of stability, from its transfer function. */

import { type Ledger, ledgerAt } from '../../../compiler/linear/ledger.ts';
import { findLoops } from '../../../compiler/linear/loops.ts';
import { type Margins, margins as marginsOf } from '../../../compiler/linear/margins.ts';
import { loopOf } from '../../../compiler/linear/periodic.ts';
import { openLoop } from '../../../compiler/linear/response.ts';
import { sheetMargins } from '../../../compiler/linear/sheet_margins.ts';
import type { OpenLoop } from '../../../compiler/linear/system.ts';
import { checkLoop, checkTransfer, transferFinding } from '../../../compiler/linear/transfer_check.ts';
import { type Answer, findingsData, messagesOf, Refusal, refusedBy } from '../answer.ts';
import { isAnswer } from '../design.ts';
import { figures } from '../figures.ts';
import { type Analysis, groundsOf, modelOf, openAnalysis, type SheetArguments } from '../sheet_linear.ts';
import { type TransferOptions, transferArgument } from '../transfer_arguments.ts';
import { bandsOf, bandText, type Variation } from './margins_band.ts';

/** Margins of the loop with the transfer function that the options say. */
export function margins(given: TransferOptions): Answer {
  const system = transferArgument(given);
  const findings = checkTransfer(system);
  return findings.length > 0 ? refusedBy('loopwright', findings) : marginsAnswer(openLoop(system), 'loopwright');
}

/** Margins of a sheet's loop, cut at a wire: timing, rates and all, about a point of rest. Without a wire, of every loop found. */
export function sheetMarginsAt(
  file: string,
  cuts: readonly string[],
  given: Pick<SheetArguments, 'hold' | 'set'>,
  varied: readonly Variation[],
): Answer {
  const open = openAnalysis(file, given);
  if (isAnswer(open)) return open;
  if (cuts.length === 0 && varied.length > 0)
    throw new Refusal('--vary needs a loop; name its wire with --cut, such as --cut drive.u');
  if (cuts.length > 0) {
    const bands = varied.length === 0 ? undefined : bandsOf(open, cuts, given, varied);
    if (bands !== undefined && isAnswer(bands)) return bands;
    const answer = cutMargins(open, cuts);
    if (bands === undefined || answer.text === undefined) return answer;
    return { ...answer, data: { ...answer.data, ...bands }, text: [answer.text, ...bandText(bands)].join('\n') };
  }
  const loops = findLoops(open.compiled);
  if (loops.length === 0) return refusedBy(file, [transferFinding('no_loops')]);
  const answers = loops.map((loop) => ({ loop, answer: cutMargins(open, [loop.cut]) }));
  return {
    status: answers.every(({ answer }) => answer.status === 0) ? 0 : 1,
    data: { loops: answers.map(({ loop, answer }) => ({ ...loop, ...answer.data })) },
    text: answers
      .map(({ loop, answer }) =>
        [`${loop.name}, cut at ${loop.cut}`, ...indented(answer.text ?? 'no margins')].join('\n'),
      )
      .join('\n'),
    messages: answers.flatMap(({ answer }) => answer.messages ?? []),
  };
}

function indented(text: string): string[] {
  return text.split('\n').map((line) => `  ${line}`);
}

function cutMargins(open: Analysis, cuts: readonly string[]): Answer {
  const [cut = ''] = cuts;
  const model = modelOf(open, { from: [cut], to: [cut], cut: cuts });
  if (isAnswer(model)) return model;
  const found = sheetMargins(model);
  const answer = marginsAnswer(loopOf(model), open.file, () => found);
  const nearest = [...found.crossovers.keys()].sort(
    (a, b) => Math.abs(found.phaseMargins[a] ?? 0) - Math.abs(found.phaseMargins[b] ?? 0),
  )[0];
  const w = nearest === undefined ? undefined : found.crossovers[nearest];
  const ledger = w === undefined ? undefined : ledgerAt(open.compiled, cut, open.hold, w);
  const rest = Object.fromEntries(model.rest.map(({ name, value }) => [name, value]));
  const grounds = groundsOf(model);
  const lines = [answer.text ?? '', ...(ledger === undefined ? [] : ledgerText(ledger)), ...grounds];
  return {
    ...answer,
    data: { ...answer.data, sample: model.sample, ledger: ledger ?? null, rest, assumed: model.assumed, grounds },
    ...(answer.text === undefined ? {} : { text: lines.join('\n') }),
  };
}

function ledgerText({ w, lines }: Ledger): string[] {
  const said = { hold: 'holding, half a sample', compute: 'computing', block: '' } as const;
  return [
    `phase at ${figures(w)} rad/s`,
    ...lines
      .filter(({ degrees }) => degrees !== 0)
      .map(({ what, name, degrees }) => `  ${said[what] || name}: ${degrees.toFixed(2)}°`),
  ];
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
    lines.push(`crosses over at ${figures(w)} rad/s with a phase margin of ${figures(found.phaseMargins[i] ?? 0)}°`);
  });
  found.phaseCrossovers.forEach((w, i) => {
    lines.push(`crosses −180° at ${figures(w)} rad/s, ${figures(found.gainMargins[i] ?? 0)} in gain from −1`);
  });
  if (found.gainInterval !== null) {
    const [low, high] = found.gainInterval;
    lines.push(`stays stable for gains times ${figures(low)} to ${high === null ? 'any number' : figures(high)}`);
    lines.push(
      `stays stable for ${found.delayMargin === null ? 'any' : `${figures(found.delayMargin)} s of`} further dead time`,
    );
  }
  if (found.peakSensitivity !== null) {
    const at = found.peakSensitivityAt === null ? 'infinite frequency' : `${figures(found.peakSensitivityAt)} rad/s`;
    lines.push(
      `modulus margin ${figures(found.modulusMargin)}, peak sensitivity ${figures(found.peakSensitivity)} at ${at}`,
    );
  }
  return lines.join('\n');
}
