/**
 * The program as the C says it: only what the exported functions reach, and every output written at every call, so that
 * the caller's struct need not be kept between ticks.
 */

import { branch } from '../ir/build.ts';
import { functionEffects, functionNamed, reachable } from '../ir/effects.ts';
import type { Func, Instruction, Program, Slot, Type } from '../ir/program.ts';
import { simplify } from '../ir/simplify.ts';

/**
 * The prepared program; slots of the given one keep their ids, held outputs come after them. It is simplified, so that no
 * compiler warns of what is never read or always so; wires it stores stay stored.
 */
export function prepare(program: Program, exported: readonly string[]): Program {
  for (const name of exported) functionNamed(program, name);
  const short = simplify(program, new Set(program.slots.map((slot) => slot.id)));
  const kept = reachable(short, [...exported, ...layerFunctions(program)]);
  const functions = short.functions.filter((func) => kept.has(func.name));
  return holdOutputs({ ...short, functions }, exported);
}

/** Functions that a scheduler calls instead of `tick`, in the order of a tick; none where all is one. */
export function layerFunctions({ layers }: Program): string[] {
  if (layers === undefined) return [];
  return [layers.release, ...layers.tasks.map((task) => task.func), layers.outputs];
}

/**
 * Slots of the given program that its C keeps or gives back, so that a self-check can compare them: not scratch. Settings
 * are among them, so that a threshold that is off by its last bit is seen even where no tick falls between.
 */
export function comparableSlots(program: Program, exported: readonly string[]): Slot[] {
  const used = touched(prepare(program, exported));
  return program.slots.filter((slot) => {
    if (slot.kind === 'output' || slot.kind === 'memory' || slot.kind === 'line') return true;
    return (slot.kind === 'wire' || slot.kind === 'setting') && used.has(slot.id);
  });
}

/** Slots that some function loads from or stores into. */
export function touched(program: Program): ReadonlySet<number> {
  const effects = [...functionEffects(program).values()];
  return new Set(effects.flatMap((one) => [...one.loads, ...one.stores]));
}

/** Outputs that some call might leave as they were, or that are read back, are kept in the struct and copied at the end. */
function holdOutputs(program: Program, exported: readonly string[]): Program {
  const loaded = new Set([...functionEffects(program).values()].flatMap((effects) => [...effects.loads]));
  const always = new Map<string, ReadonlySet<number>>();
  for (const func of program.functions) always.set(func.name, alwaysStored(func, program, always));
  const held = program.slots.filter(
    (slot) =>
      slot.kind === 'output' && (loaded.has(slot.id) || !exported.every((name) => always.get(name)?.has(slot.id))),
  );
  if (held.length === 0) return program;

  const names = new Set(program.slots.map((slot) => slot.name));
  const slots = [...program.slots];
  const copies = new Map<number, number>();
  for (const output of held) {
    let name = `${output.name}_held`;
    while (names.has(name)) name += '_';
    names.add(name);
    copies.set(output.id, slots.length);
    slots.push({ ...output, id: slots.length, name, kind: 'wire' });
  }
  const moved = (id: number): number => copies.get(id) ?? id;
  const functions = program.functions.map((func) => {
    const body = mapSlots(func.body, moved);
    return exported.includes(func.name) ? withCopies({ ...func, body }, held, moved) : { ...func, body };
  });
  return { ...program, slots, functions };
}

/** Scalar outputs that every run of the function stores, whichever way it goes. */
function alwaysStored(func: Func, program: Program, known: ReadonlyMap<string, ReadonlySet<number>>): Set<number> {
  const stored = new Set<number>();
  for (const instruction of func.body) {
    if (instruction.do === 'store' && program.slots[instruction.slot]?.length === 1) stored.add(instruction.slot);
    if (instruction.do === 'call') for (const slot of known.get(instruction.func) ?? []) stored.add(slot);
  }
  return stored;
}

function mapSlots(list: readonly Instruction[], moved: (id: number) => number): Instruction[] {
  return list.map((instruction) => {
    if (instruction.do === 'load' || instruction.do === 'store')
      return { ...instruction, slot: moved(instruction.slot) };
    if (instruction.do === 'if')
      return branch(instruction.condition, mapSlots(instruction.then, moved), mapSlots(instruction.else, moved));
    if (instruction.do === 'repeat') return { ...instruction, body: mapSlots(instruction.body, moved) };
    return instruction;
  });
}

function withCopies(func: Func, held: readonly Slot[], moved: (id: number) => number): Func {
  const values: Type[] = [...func.values];
  const make = (type: Type): number => values.push(type) - 1;
  const copies = held.flatMap((output): Instruction[] => {
    if (output.length === 1) {
      const to = make(output.type);
      return [
        { do: 'load', to, slot: moved(output.id) },
        { do: 'store', slot: output.id, value: to },
      ];
    }
    const index = make('i32');
    const to = make(output.type);
    const body: Instruction[] = [
      { do: 'load', to, slot: moved(output.id), index },
      { do: 'store', slot: output.id, index, value: to },
    ];
    return [{ do: 'repeat', count: output.length, index, body }];
  });
  const note: Instruction = { do: 'note', block: '', text: 'outputs that are held between their ticks' };
  return { ...func, values, body: [...func.body, note, ...copies] };
}
