/** Operations made so far, to be found again by what they are; what a nested list makes leaves no trace. */

import type { Value } from './program.ts';

export interface Made {
  readonly to: Value;
  readonly op: string;
  readonly args: readonly Value[];
}

/** Operations looked at for one: with more that read the same latest value, some are made twice. */
const MOST = 64;

/** Each operation hangs on the latest of the values it reads, which few read yet. */
export class Computed {
  /** By value: the last operation that hangs on it; by that operation's own value: the one before. */
  private readonly last: (Made | undefined)[];
  private readonly before: (Made | undefined)[];
  private readonly order: Value[] = [];
  private depth = 0;

  /** For about so many values. */
  constructor(values: number) {
    this.last = new Array<Made | undefined>(values);
    this.before = new Array<Made | undefined>(values);
  }

  find(op: string, args: readonly Value[], commutes: boolean): Value | undefined {
    const [a, b] = args;
    let made = this.last[latest(args)];
    for (let looked = 0; made !== undefined && looked < MOST; looked++) {
      const { args: own } = made;
      if (made.op === op) {
        if (own.every((arg, i) => arg === args[i])) return made.to;
        if (commutes && own[0] === b && own[1] === a) return made.to;
      }
      made = this.before[made.to];
    }
    return undefined;
  }

  add(made: Made): void {
    const on = latest(made.args);
    this.before[made.to] = this.last[on];
    this.last[on] = made;
    if (this.depth > 0) this.order.push(on);
  }

  /** Goes through a nested list. */
  nested(list: () => void): void {
    const mark = this.order.length;
    this.depth++;
    list();
    this.depth--;
    while (this.order.length > mark) {
      const on = this.order.pop() ?? 0;
      const made = this.last[on];
      this.last[on] = made === undefined ? undefined : this.before[made.to];
    }
  }
}

function latest(args: readonly Value[]): Value {
  let found = 0;
  for (const arg of args) if (arg > found) found = arg;
  return found;
}
