/** What a block text says, as data: the parser's product, before anything is checked against anything else. */

/** 1-based place in the text. */
export interface Spot {
  readonly line: number;
  readonly column: number;
}

export type BinaryOperator = '+' | '-' | '*' | '/' | '\\' | '^' | '==' | '!=' | '<' | '<=' | '>' | '>=' | 'and' | 'or';

export type Expression =
  /** A number with the unit it was written with; `value` is SI. `text` is the numeral as written, for the card. */
  | {
      readonly kind: 'number';
      readonly value: number;
      readonly unit: UnitExpression | undefined;
      readonly text: string;
      readonly at: Spot;
    }
  /** A name; on a sheet it may be dotted: `body.lean`. */
  | { readonly kind: 'name'; readonly name: string; readonly at: Spot }
  | { readonly kind: 'word'; readonly word: string; readonly at: Spot }
  | { readonly kind: 'unary'; readonly op: '-' | 'not'; readonly arg: Expression; readonly at: Spot }
  | {
      readonly kind: 'binary';
      readonly op: BinaryOperator;
      readonly left: Expression;
      readonly right: Expression;
      readonly at: Spot;
    }
  | {
      readonly kind: 'choose';
      readonly condition: Expression;
      readonly then: Expression;
      readonly else: Expression;
      readonly at: Spot;
    }
  | { readonly kind: 'call'; readonly name: string; readonly args: readonly Expression[]; readonly at: Spot }
  | { readonly kind: 'index'; readonly base: Expression; readonly indices: readonly Expression[]; readonly at: Spot }
  /** `[a, b]` is a column: rows of one. `[a, b; c, d]` has rows of two, `[a, b;]` is a single row. */
  | { readonly kind: 'matrix'; readonly rows: readonly (readonly Expression[])[]; readonly at: Spot }
  /** `[body for variable to count]` or `[body for variable in list]`. */
  | {
      readonly kind: 'each';
      readonly body: Expression;
      readonly variable: string;
      readonly over: { readonly to: Expression } | { readonly in: string };
      readonly at: Spot;
    }
  /** `fold(acc = start; variable in list; body)`. */
  | {
      readonly kind: 'fold';
      readonly accumulator: string;
      readonly start: Expression;
      readonly variable: string;
      readonly list: string;
      readonly body: Expression;
      readonly at: Spot;
    }
  /** `t is "-"`. */
  | { readonly kind: 'is'; readonly name: string; readonly word: string; readonly at: Spot };

/** A unit as written: factors with integer powers; a letter stands for a unit to be solved. */
export interface UnitExpression {
  readonly factors: readonly { readonly symbol: string; readonly power: number }[];
  readonly text: string;
}

export interface TypeExpression {
  readonly base: 'real' | 'bool' | 'int';
  /** Rows, columns; absent for a scalar; one entry for a vector. */
  readonly shape: readonly Expression[];
  readonly unit: UnitExpression | undefined;
  /** Every open-ended input has a unit of its own. */
  readonly each: boolean;
  readonly at: Spot;
}

export interface Declaration {
  readonly name: string;
  readonly type: TypeExpression;
  readonly words: string | undefined;
  readonly at: Spot;
}

export interface InputDeclaration extends Declaration {
  readonly fallback: Expression | undefined;
}

/** Open-ended inputs. */
export interface InputsDeclaration extends Declaration {
  readonly kinds: readonly string[];
}

export interface Bounds {
  readonly above: Expression | undefined;
  readonly below: Expression | undefined;
  readonly from: Expression | undefined;
  readonly to: Expression | undefined;
}

export interface SettingDeclaration extends Declaration {
  readonly value: Expression;
  readonly bounds: Bounds;
}

export interface BuildDeclaration {
  readonly name: string;
  readonly type: 'int' | 'bool' | 'word' | 'text' | 'texts';
  /** The possible words, for type `word`. */
  readonly words: readonly string[];
  readonly value: Expression;
  readonly bounds: Bounds;
  readonly purpose: string | undefined;
  readonly at: Spot;
}

export interface MemoryDeclaration extends Declaration {
  readonly kind: 'mem' | 'line' | 'state';
  readonly start: Expression;
  /** Of a delay line. */
  readonly length: Expression | undefined;
}

export interface ChannelDeclaration {
  readonly direction: 'in' | 'out';
  readonly name: string;
  readonly type: 'real' | 'int' | 'bool';
  /** What a `channel out` holds before its first tick; 0 or false if unsaid. */
  readonly start?: Expression | undefined;
  readonly at: Spot;
}

export interface Equation {
  readonly kind: 'plain' | 'next' | 'rate' | 'let' | 'law';
  readonly name: string;
  readonly value: Expression;
  readonly at: Spot;
}

export interface Transition {
  readonly from: readonly string[];
  readonly to: string;
  readonly when: Expression;
  readonly at: Spot;
}

export interface Saying {
  readonly condition: Expression;
  readonly words: string;
  readonly left: Expression | undefined;
  readonly at: Spot;
}

/** `needs CONDITION "words"`: what must hold of settings, build settings and sizes; `words` say it to whoever broke it. */
export interface Need {
  readonly condition: Expression;
  readonly words: string;
  readonly at: Spot;
}

/** A value in an example; `digits` is set by `about`: decimal places written. */
export interface ExampleValue {
  readonly name: string;
  readonly value: Expression;
  readonly about: boolean;
}

export interface Example {
  readonly settings: readonly ExampleValue[];
  readonly every: Expression | undefined;
  readonly inputs: readonly { readonly name: string; readonly kind: string }[];
  readonly steps: readonly {
    readonly inputs: readonly ExampleValue[];
    readonly ticks: number;
    readonly outputs: readonly ExampleValue[];
  }[];
  readonly at: Spot;
}

/** One block text. */
export interface BlockText {
  readonly name: string;
  readonly purpose: string;
  readonly label: string | undefined;
  readonly source: string | undefined;
  readonly inputs: readonly InputDeclaration[];
  readonly openInputs: readonly InputsDeclaration[];
  readonly outputs: readonly Declaration[];
  /** `outputs NAME: TYPE`: one output for each word of the build setting of that name. */
  readonly openOutputs: readonly Declaration[];
  readonly settings: readonly SettingDeclaration[];
  readonly builds: readonly BuildDeclaration[];
  readonly memories: readonly MemoryDeclaration[];
  readonly channels: readonly ChannelDeclaration[];
  readonly equations: readonly Equation[];
  readonly modes: readonly string[];
  readonly transitions: readonly Transition[];
  readonly needs: readonly Need[];
  readonly sayings: readonly Saying[];
  readonly examples: readonly Example[];
  readonly guards: boolean;
  readonly harmless: boolean;
  /** The mode that linear analysis takes for granted. */
  readonly analysedIn: string | undefined;
  readonly side: 'plant' | 'controller' | undefined;
  readonly drawnAs: string | undefined;
}
