/** Whether a filter in 32 bits still is the filter that was designed: its poles and its gain at rest, realised against exact. */

import { EigenvalueDecomposition, LuDecomposition, Matrix } from 'ml-matrix';
import type { Finding } from '../findings.ts';
import type { Program, Slot } from '../ir/program.ts';
import { DerivativeMachine } from '../linear/derivative.ts';
import { saysStarted } from '../stages/clocks.ts';
import type { Definition } from '../stages/definitions.ts';
import { type Design, lowerAlone } from '../stages/lower.ts';
import type { Instance } from '../stages/resolve.ts';

/** Most memories of a block that is looked at. */
const MOST_MEMORIES = 40;
/** Gain at rest that may be off, as a part of it. */
const GAIN_OFF = 1e-3;
/** How far a pole may move, as a part of its distance from 1. */
const POLE_OFF = 0.02;

/** A block about its start values: next memories and outputs by memories and inputs. */
interface Linear {
  readonly poles: readonly { readonly re: number; readonly im: number }[];
  /** Outputs by inputs, at rest; undefined where a pole is at 1. */
  readonly atRest: Matrix | undefined;
}

/** Filters whose numbers are rounded to 32 bits and no longer say what was meant. */
export function reviewRealised(design: Design, findings: Finding[]): void {
  if (design.number !== 'f32') return;
  const known = new Map<string, Readonly<Record<string, string>> | undefined>();
  const own = definitionsOf(design);
  for (const instance of design.resolved.instances.values()) {
    if (instance.side === 'plant' || !remembersReals(instance)) continue;
    const { text } = instance.flat;
    const key = JSON.stringify([text.name, [...instance.settings], [...instance.builds], instance.period]);
    const facts = known.has(key) ? known.get(key) : loss(design, instance, own.get(instance) ?? []);
    known.set(key, facts);
    if (facts !== undefined) findings.push({ id: 'filter_off', level: 'warning', at: { path: instance.path }, facts });
  }
}

function remembersReals({ flat, signals }: Instance): boolean {
  return flat.text.memories.some(({ kind, name }) => kind === 'mem' && signals.get(name)?.kind === 'real');
}

/** What each block does in a tick, in order. */
function definitionsOf({ ordered }: Design): ReadonlyMap<Instance, readonly Definition[]> {
  const own = new Map<Instance, Definition[]>();
  for (const definition of ordered.tick.flatMap((region) => region.definitions)) {
    const list = own.get(definition.instance);
    if (list === undefined) own.set(definition.instance, [definition]);
    else list.push(definition);
  }
  return own;
}

function loss(
  design: Design,
  instance: Instance,
  definitions: readonly Definition[],
): Readonly<Record<string, string>> | undefined {
  const [single, exact] = (['f32', 'f64'] as const).map((number) =>
    about(lowerAlone(design, instance, definitions, number), instance),
  );
  if (single === undefined || exact === undefined) return undefined;
  const facts: Record<string, string> = {};
  if (single.atRest !== undefined && exact.atRest !== undefined)
    for (let i = 0; i < exact.atRest.rows; i++)
      for (let j = 0; j < exact.atRest.columns; j++) {
        const [got, wanted] = [single.atRest.get(i, j), exact.atRest.get(i, j)];
        if (Number.isFinite(wanted) && Math.abs(got - wanted) > GAIN_OFF * Math.max(Math.abs(wanted), 1e-9))
          Object.assign(facts, { gain: figures(got), wanted: figures(wanted) });
      }
  const left = [...single.poles];
  for (const pole of exact.poles) {
    left.sort((a, b) => Math.hypot(a.re - pole.re, a.im - pole.im) - Math.hypot(b.re - pole.re, b.im - pole.im));
    const nearest = left.shift();
    const room = Math.hypot(1 - pole.re, pole.im);
    if (nearest === undefined || room < 1e-12) continue;
    const moved = Math.hypot(nearest.re - pole.re, nearest.im - pole.im) / room;
    if (moved > POLE_OFF) facts.moved = figures(Math.max(100 * moved, Number(facts.moved ?? 0)));
  }
  return Object.keys(facts).length === 0 ? undefined : { block: instance.path, ...facts };
}

const figures = (x: number): string => Number(x.toPrecision(3)).toString();

function about(program: Program, instance: Instance): Linear | undefined {
  const own = (slot: Slot): boolean => slot.block === instance.path;
  const isReal = (slot: Slot): boolean => slot.type === 'f32' || slot.type === 'f64';
  const scalars = (slots: readonly Slot[]) =>
    slots.flatMap((slot) => Array.from({ length: slot.length }, (_, index) => ({ slot: slot.id, index })));
  const states = scalars(program.slots.filter((slot) => slot.kind === 'memory' && own(slot) && isReal(slot)));
  const inputs = scalars(program.slots.filter((slot) => slot.kind === 'wire' && !own(slot) && isReal(slot)));
  const outputs = scalars(
    program.slots.filter((slot) => {
      const name = slot.name.slice(instance.path.length + 1);
      return (
        slot.kind === 'wire' && own(slot) && isReal(slot) && instance.flat.text.outputs.some((o) => o.name === name)
      );
    }),
  );
  if (states.length === 0 || states.length > MOST_MEMORIES) return undefined;
  const machine = new DerivativeMachine(program, states.length + inputs.length);
  for (const slot of program.slots) if (saysStarted(slot)) machine.write(slot.id, 1);
  for (const [k, { slot, index }] of [...states, ...inputs].entries()) machine.seed(slot, k, index);
  machine.call('tick');
  const rows = (places: typeof states) => places.map(({ slot, index }) => [...machine.gradient(slot, index)]);
  const all = rows(states);
  const made = rows(outputs);
  if ([...all, ...made].flat().some((x) => !Number.isFinite(x))) return undefined;
  const a = new Matrix(all.map((row) => row.slice(0, states.length)));
  const { realEigenvalues, imaginaryEigenvalues } = new EigenvalueDecomposition(a);
  const poles = realEigenvalues.map((re, i) => ({ re, im: imaginaryEigenvalues[i] ?? 0 }));
  if (inputs.length === 0 || outputs.length === 0) return { poles, atRest: undefined };
  const rest = new LuDecomposition(Matrix.eye(states.length).sub(a));
  if (rest.isSingular()) return { poles, atRest: undefined };
  const b = new Matrix(all.map((row) => row.slice(states.length)));
  const c = new Matrix(made.map((row) => row.slice(0, states.length)));
  const d = new Matrix(made.map((row) => row.slice(states.length)));
  return { poles, atRest: c.mmul(rest.solve(b)).add(d) };
}
