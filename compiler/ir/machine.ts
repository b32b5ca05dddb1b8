/** What runs a program: one interface for the interpreter and for WebAssembly. */

/** One instance of a program with storage of its own. Slots are named by their `id`, numbers are those of their type. */
export interface Machine {
  /** Puts every slot to its start values; a new machine has them already. Calls no function. */
  start(): void;
  /**
   * Runs one function. Arguments are brought to the parameters' types (f32 rounded, i32 truncated modulo 2³², bool 0
   * or 1); the answer is undefined when the function has no result, and 0 or 1 for a bool. An unknown name is our own
   * mistake and throws.
   */
  call(func: string, ...args: number[]): number | undefined;
  /** One scalar of a slot; `index` is 0-based (absent: 0) and must lie in the slot. */
  read(slot: number, index?: number): number;
  /** Writes one scalar of a slot, brought to its type as for `call`; `index` as for `read`. */
  write(slot: number, value: number, index?: number): void;
  /** A copy of all scalars of a slot, in storage order (for a delay line: not in order of age). */
  readAll(slot: number): Float64Array;
}
