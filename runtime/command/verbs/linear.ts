/** `linear`: the exact linear model between ports of a sheet, about a point of rest. */

import { Matrix } from 'ml-matrix';
import { eigenvalues } from '../../../compiler/linear/eigenvalues.ts';
import { expand, factoredOf } from '../../../compiler/linear/factored.ts';
import { connected, withoutFree } from '../../../compiler/linear/minimal.ts';
import { heldOver } from '../../../compiler/linear/periodic.ts';
import { fromRoots } from '../../../compiler/linear/polynomial.ts';
import type { Complex, StateSpace } from '../../../compiler/linear/system.ts';
import type { Answer } from '../answer.ts';
import { isAnswer } from '../design.ts';
import { complexText, figures } from '../figures.ts';
import { groundsOf, openModel, type SheetArguments } from '../sheet_linear.ts';

export function linear(file: string, given: SheetArguments): Answer {
  const model = openModel(file, given);
  if (isAnswer(model)) return model;
  const system = heldOver(model, given.from.length, given.to.length);
  const between = withoutFree(connected(system));
  const poles = eigenvalues(between.A);
  const channels = given.to.map((_, output) => given.from.map((_, input) => channel(between, output, input)));
  const single = given.from.length === 1 && given.to.length === 1 ? channels[0]?.[0] : undefined;
  const data = {
    A: system.A.to2DArray(),
    B: rows(system.B),
    C: rows(system.C),
    D: rows(system.D),
    dt: system.dt,
    num: single?.num ?? channels.map((list) => list.map(({ num }) => num)),
    den: fromRoots(poles),
    poles,
    zeros: single?.zeros ?? channels.map((list) => list.map(({ zeros }) => zeros)),
    states: model.states,
    rest: Object.fromEntries(model.rest.map(({ name, value }) => [name, value])),
    assumed: model.assumed,
    grounds: groundsOf(model),
  };
  return { status: 0, data, text: [...told(given, data, single?.gain), ...data.grounds].join('\n') };
}

/** One input to one output, over the poles that all have in common. */
function channel(system: StateSpace, output: number, input: number) {
  const { A, B, C, D, dt } = system;
  const direct = D.subMatrix(output, output, input, input);
  const factors = factoredOf(
    A.rows === 0
      ? { A, B: Matrix.zeros(0, 1), C: Matrix.zeros(1, 0), D: direct, dt }
      : { A, B: B.getColumnVector(input), C: C.getRowVector(output), D: direct, dt },
  );
  return { num: expand(factors).num, zeros: factors.zeros, gain: factors.gain };
}

function rows(matrix: Matrix): number[][] {
  return matrix.rows === 0 || matrix.columns === 0 ? [] : matrix.to2DArray();
}

function told(
  given: SheetArguments,
  data: {
    readonly dt: number;
    readonly poles: readonly Complex[];
    readonly zeros: unknown;
    readonly states: readonly string[];
  },
  gain: number | undefined,
): string[] {
  const numbers = (list: readonly Complex[]): string => (list.length === 0 ? 'none' : list.map(complexText).join('  '));
  return [
    `from ${given.from.join(', ')} to ${given.to.join(', ')}, ${data.dt === 0 ? 'in s' : `in z, every ${figures(data.dt)} s`}`,
    `states: ${data.states.join(', ') || 'none'}`,
    `poles: ${numbers(data.poles)}`,
    ...(gain === undefined ? [] : [`zeros: ${numbers(data.zeros as Complex[])}`, `gain: ${figures(gain)}`]),
  ];
}
