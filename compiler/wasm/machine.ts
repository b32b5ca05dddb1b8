/** Runs a program as WebAssembly. */

import { functionEffects } from '../ir/effects.ts';
import type { Machine } from '../ir/machine.ts';
import type { Program, Slot } from '../ir/program.ts';
import { encodeFunction, type Surroundings } from './body.ts';
import { moduleBytes } from './encode.ts';
import { withShortCallsInside } from './inline.ts';
import { type Layout, layOut } from './layout.ts';

/** Live storage of a slot: reading it is reading the machine. */
export type Storage = Float64Array | Float32Array | Int32Array;

/** A machine that also gives its insides to whoever runs millions of ticks. */
export interface WasmMachine extends Machine {
  /** The function itself, to be called again and again; arguments and answer as for `call`, but bools must be 0 or 1. */
  func(name: string): (...args: number[]) => number | undefined;
  /** The slot's own storage, in storage order; a bool is 0 or 1. */
  view(slot: number): Storage;
}

/** The module of a program. The same program gives the same bytes. */
export function encodeProgram(whole: Program): Uint8Array<ArrayBuffer> {
  const program = withShortCallsInside(whole);
  const layout = layOut(program);
  const places = new Map(program.functions.map((func, place) => [func.name, { place, func }]));
  const around: Surroundings = { program, layout, known: functionEffects(program), places };
  const functions = program.functions.map((func) => encodeFunction(func, around));
  return moduleBytes(functions, Math.max(1, Math.ceil(layout.bytes / 65536)));
}

/** Makes a machine without holding up the thread while the module is compiled. */
export async function createWasmMachine(program: Program): Promise<WasmMachine> {
  const { instance } = await WebAssembly.instantiate(encodeProgram(program));
  return machineOf(program, instance);
}

/** Makes a machine at once; browsers allow it on their main thread for small modules only. */
export function createWasmMachineSync(program: Program): WasmMachine {
  return machineOf(program, new WebAssembly.Instance(new WebAssembly.Module(encodeProgram(program))));
}

function machineOf(program: Program, instance: WebAssembly.Instance): WasmMachine {
  const memory = instance.exports['.memory'];
  if (!(memory instanceof WebAssembly.Memory)) throw new Error(`${program.name}: the module has no memory`);
  const layout = layOut(program);
  const views = program.slots.map((slot) => storageOf(slot, memory.buffer, layout));
  const functions = new Map(program.functions.map((func) => [func.name, { func, run: exported(instance, func.name) }]));
  const fresh = startImage(program, layout);
  const all = new Uint8Array(memory.buffer);

  const find = (name: string) => {
    const found = functions.get(name);
    if (found === undefined) throw new Error(`${program.name}: no function ${name}`);
    return found;
  };
  const viewOf = (slot: number): Storage => {
    const view = views[slot];
    if (view === undefined) throw new Error(`${program.name}: no slot ${slot}`);
    return view;
  };
  const elementOf = (slot: number, index: number): Storage => {
    const view = viewOf(slot);
    if (!(Number.isInteger(index) && index >= 0 && index < view.length))
      throw new Error(`${program.name}: slot ${program.slots[slot]?.name} has no element ${index}`);
    return view;
  };
  const machine: WasmMachine = {
    start() {
      all.set(fresh);
    },
    call(name, ...args) {
      const { func, run } = find(name);
      if (args.length !== func.parameters)
        throw new Error(`${name} takes ${func.parameters} values, got ${args.length}`);
      if (args.length === 0) return run();
      return run(...args.map((arg, i) => (func.values[i] === 'bool' ? asBool(arg) : arg)));
    },
    read(slot, index = 0) {
      return elementOf(slot, index)[index] as number;
    },
    write(slot, value, index = 0) {
      elementOf(slot, index)[index] = program.slots[slot]?.type === 'bool' ? asBool(value) : value;
    },
    readAll(slot) {
      return Float64Array.from(viewOf(slot));
    },
    func(name) {
      return find(name).run;
    },
    view: viewOf,
  };
  machine.start();
  return machine;
}

const asBool = (value: number): number => (value === 0 ? 0 : 1);

function exported(instance: WebAssembly.Instance, name: string): (...args: number[]) => number | undefined {
  const found = instance.exports[name];
  if (typeof found !== 'function') throw new Error(`the module has no function ${name}`);
  return found as (...args: number[]) => number | undefined;
}

function storageOf(slot: Slot, buffer: ArrayBuffer, layout: Layout): Storage {
  const address = layout.addresses[slot.id] ?? 0;
  if (slot.type === 'f64') return new Float64Array(buffer, address, slot.length);
  if (slot.type === 'f32') return new Float32Array(buffer, address, slot.length);
  return new Int32Array(buffer, address, slot.length);
}

/** The memory with every slot at its start values. */
function startImage(program: Program, layout: Layout): Uint8Array {
  const buffer = new ArrayBuffer(Math.ceil(layout.bytes / 8) * 8);
  for (const slot of program.slots) storageOf(slot, buffer, layout).set(slot.start);
  return new Uint8Array(buffer);
}
