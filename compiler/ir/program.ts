/** The typed program: what a sheet means once every block, rate and unit has been resolved. */

/** Scalar types. There are no vectors: a shaped quantity is a slot of contiguous scalars. */
export type Type = 'bool' | 'i32' | 'f32' | 'f64';

/** The type of a real number in one program: the sheet's `number` for the controller, `f64` for the plant side. */
export type Real = 'f32' | 'f64';

/**
 * What a slot is for. `input` is written from outside before a tick, `output` is read after it, `wire` is a value kept
 * because another rate, another piece of the tick or a recording reads it, `memory` changes only when it is committed,
 * `line` is a delay line, `setting` holds a number recomputed on the host when a setting is adjusted, `scratch` is
 * working storage whose value means nothing between calls.
 */
export type SlotKind = 'input' | 'output' | 'wire' | 'memory' | 'line' | 'setting' | 'scratch';

/** A named piece of the program's storage: `length` scalars of one type. */
export interface Slot {
  /** Index in `Program.slots`. */
  readonly id: number;
  /** Unique, as on the sheet: `balance.tilt.x`. */
  readonly name: string;
  readonly kind: SlotKind;
  readonly type: Type;
  /** Scalars in the slot; 1 for a scalar, the number of ticks held for a delay line. */
  readonly length: number;
  /** One value a scalar; a bool is 0 or 1. Already rounded to the slot's type. */
  readonly start: readonly number[];
  /** Path of the block it belongs to; empty for the program's own. */
  readonly block: string;
  /** A delay line's position slot (an `i32` memory counting 0 … length − 1): where the next value goes. */
  readonly head?: number;
  /** Unit in words and purpose, for the comment in the C. */
  readonly note?: string;
}

/** Names a value made by one instruction of one function; an index into `Func.values`. */
export type Value = number;

export type Instruction =
  /** A number, rounded to its type; a bool is 0 or 1. */
  | { readonly do: 'const'; readonly to: Value; readonly value: number }
  /** One pure operation out of `operations.ts`; operands are of the type that operation's record asks for. */
  | { readonly do: 'compute'; readonly to: Value; readonly op: string; readonly args: readonly Value[] }
  /** Reads element `index` (0-based i32, clamped into the slot; absent: 0) of a slot. */
  | { readonly do: 'load'; readonly to: Value; readonly slot: number; readonly index?: Value | undefined }
  /** Writes element `index` (as for load) of a slot. */
  | { readonly do: 'store'; readonly slot: number; readonly index?: Value | undefined; readonly value: Value }
  /** Reads what was pushed into a delay line `ago` pushes ago (i32, clamped to 1 … length). */
  | { readonly do: 'line_load'; readonly to: Value; readonly slot: number; readonly ago: Value }
  /** Pushes one value into a delay line. */
  | { readonly do: 'line_push'; readonly slot: number; readonly value: Value }
  /** Values made inside a branch are not seen outside it. */
  | {
      readonly do: 'if';
      readonly condition: Value;
      readonly then: readonly Instruction[];
      readonly else: readonly Instruction[];
    }
  /** Runs `body` for `index` (i32) 0 … count − 1. */
  | { readonly do: 'repeat'; readonly count: number; readonly index: Value; readonly body: readonly Instruction[] }
  /** Calls another function of the program; `to` is absent when it returns nothing. */
  | { readonly do: 'call'; readonly to?: Value | undefined; readonly func: string; readonly args: readonly Value[] }
  /** Marks that what follows, in this list, says this block; only for readers. */
  | { readonly do: 'note'; readonly block: string; readonly text: string };

/** A function: parameters are the first values; the result, if any, is a value of the outermost list. */
export interface Func {
  readonly name: string;
  /** Number of parameters; they are values 0 … parameters − 1. */
  readonly parameters: number;
  /** Type of every value. */
  readonly values: readonly Type[];
  readonly body: readonly Instruction[];
  readonly result?: Value | undefined;
  /** What a reader would call some of the values, as on the sheet: `tilt.estimate`; means nothing to a machine. */
  readonly names?: Readonly<Record<Value, string>>;
}

/** One task of a layered program: what is due every `every` ticks from tick `phase` on. */
export interface LayerTask {
  readonly func: string;
  readonly every: number;
  readonly phase: number;
  /** Slot that counts the releases that found it still running, and the slot with the tick of the first of them. */
  readonly overruns: number;
  readonly overrunTick: number;
}

/**
 * How a layered program is run: at each tick `release`, which answers a bit for each task to be run (bit 0 is the first of
 * the list, the fastest), those tasks by priority, and `outputs` once the task of every tick is done. `tick` does all of it
 * in one go.
 */
export interface Layers {
  readonly release: string;
  readonly outputs: string;
  readonly tasks: readonly LayerTask[];
}

/** A whole program. Functions call only functions listed before them, so there is no recursion. */
export interface Program {
  readonly name: string;
  readonly real: Real;
  readonly slots: readonly Slot[];
  readonly functions: readonly Func[];
  /** Absent where everything due runs within its tick. */
  readonly layers?: Layers;
}
