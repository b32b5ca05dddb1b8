/** What the bench's thread is asked, and what it tells: plain data both ways. */

import type { Finding } from '../../compiler/findings.ts';
import type { Real, Type } from '../../compiler/ir/program.ts';
import type { Nudge, SettingValue, Sheet } from '../../compiler/sheet/sheet.ts';
import type { Beside } from '../document/beside.ts';
import type { Stretch } from './trace.ts';

/** What is to be run. */
export interface Opening {
  readonly sheet: Sheet;
  /** Of the sheet's file. */
  readonly name: string;
  /** One of the sheet's runs; without it the sheet as it stands. */
  readonly run: string | undefined;
  /** Files beside the sheet. */
  readonly beside: Beside;
  /** Ports whose traces are kept. */
  readonly kept: readonly string[];
}

type WithoutTime<T> = T extends unknown ? Omit<T, 'at'> : never;

/** A disturbance put in by hand at the next tick. */
export type HandNudge = WithoutTime<Extract<Nudge, { readonly port: string }>>;

/** A stretch of traces, to be drawn in so many buckets. */
export interface Range {
  readonly names: readonly string[];
  /** Ticks; `to` is excluded. */
  readonly from: number;
  readonly to: number;
  readonly buckets: number;
  /** The run before this one instead. */
  readonly earlier?: boolean;
}

export type Ask =
  | { readonly do: 'open'; readonly number: number; readonly opening: Opening }
  /** Seconds of the machine's time in a second of ours; infinite: as fast as possible. */
  | { readonly do: 'play'; readonly pace: number }
  | { readonly do: 'pause' }
  | { readonly do: 'tick' }
  | { readonly do: 'seek'; readonly tick: number | undefined }
  /** Without a value: back to what the block says, which the given sheet shows. */
  | {
      readonly do: 'set';
      readonly setting: string;
      readonly value: SettingValue | undefined;
      readonly sheet: Sheet;
    }
  | { readonly do: 'nudge'; readonly nudge: HandNudge }
  | { readonly do: 'keep'; readonly names: readonly string[] }
  | { readonly do: 'watch'; readonly number: number; readonly names: readonly string[] }
  | { readonly do: 'range'; readonly number: number; readonly range: Range }
  | { readonly do: 'lanes'; readonly number: number; readonly range: Range }
  | { readonly do: 'table'; readonly number: number; readonly names: readonly string[]; readonly bits: boolean };

/** One value a run has. */
export interface Recorded {
  readonly name: string;
  readonly type: Type;
  readonly unit: string;
  /** Words of its modes; empty for anything else. */
  readonly modes: readonly string[];
  /** It changes at ticks only, and holds between them. */
  readonly stepped: boolean;
  /** The ticks it changes on. */
  readonly every: number;
  readonly phase: number;
}

/** A setting that can be adjusted while the run goes. */
export interface Adjustable {
  /** `block.setting`. */
  readonly name: string;
  readonly about: string;
  readonly unit: string;
  /** As the run began. */
  readonly value: number;
  readonly low: number | undefined;
  readonly high: number | undefined;
  readonly kind: 'real' | 'int' | 'bool';
  readonly side: 'plant' | 'controller' | 'shore';
}

/** One saying of a block: the ports of its truth and of what is left, and its words with names in braces. */
export interface SayingFacts {
  readonly block: string;
  /** Blocks between it and the one that asks; those nearer say it better. */
  readonly depth: number;
  readonly when: string;
  readonly words: string;
  readonly left: string | undefined;
  /** Ports for the names in the words. */
  readonly names: Readonly<Record<string, string>>;
}

/** A named input of a block that keeps something safe. */
export interface GateRow {
  readonly name: string;
  /** What it is to the block: `reasons`, `trips`. */
  readonly kind: string;
  /** A condition that stops, rather than one that must hold. */
  readonly stops: boolean;
  readonly port: string;
  /** The block whose output it takes, and the sayings of the logic before it. */
  readonly block: string;
  readonly sayings: readonly SayingFacts[];
}

/** A block that keeps something safe, with what decides it. */
export interface GateFacts {
  readonly path: string;
  readonly modes: readonly string[];
  /** The port that is true while it lets through, if it has one: then reasons count no more, and trips do. */
  readonly live: string | undefined;
  readonly rows: readonly GateRow[];
  readonly sayings: readonly SayingFacts[];
}

/** A nudge of the run itself. */
export interface NudgeFacts {
  readonly name: string;
  readonly from: number;
  readonly until: number | undefined;
  readonly words: string;
}

export interface RunFacts {
  readonly run: string | undefined;
  /** Seconds. */
  readonly tick: number;
  /** How many the run has. */
  readonly ticks: number;
  readonly number: Real;
  readonly values: readonly Recorded[];
  /** What other names stand for: an input for the output it takes, a group's output for that of a block in it. */
  readonly aliases: Readonly<Record<string, string>>;
  /** What the run itself records, a column a number. */
  readonly record: readonly string[];
  readonly nudges: readonly NudgeFacts[];
  readonly settings: readonly Adjustable[];
  readonly gates: readonly GateFacts[];
  /** The controller's blocks in the order they run, each on its ticks. */
  readonly order: readonly { readonly path: string; readonly every: number; readonly phase: number }[];
}

/** Something done by hand, and when. */
export interface Notch {
  readonly tick: number;
  readonly is: 'set' | 'nudge';
  /** The setting or the port. */
  readonly name: string;
  readonly words: string;
  /** The same as a nudge of a run, to be kept in the sheet. */
  readonly nudge: Nudge;
}

/** A mode that a guarding block went into. */
export interface Moment {
  readonly tick: number;
  readonly block: string;
  readonly mode: string;
  readonly trip: boolean;
}

/** How an expectation stands. `open`: it can still turn out either way. */
export interface Verdict {
  readonly name: string;
  readonly text: string;
  readonly is: 'open' | 'holds' | 'fails';
  /** Where it was decided, if at one tick. */
  readonly tick: number | undefined;
}

export type Doing = 'paused' | 'playing' | 'replaying' | 'ended';

/** A value that can be watched: where its numbers stand in the values told. */
export interface Watched extends Recorded {
  readonly count: number;
}

export type Tell =
  /** `before`: there is a run before this one to be drawn behind it. */
  | { readonly say: 'opened'; readonly number: number; readonly facts: RunFacts; readonly before: boolean }
  | {
      readonly say: 'refused';
      readonly number: number;
      readonly findings: readonly Finding[];
      readonly failed: string | undefined;
    }
  /** How many ticks have been run. */
  | { readonly say: 'progress'; readonly head: number; readonly doing: Doing }
  | {
      readonly say: 'marks';
      readonly notches: readonly Notch[];
      readonly moments: readonly Moment[];
      readonly verdicts: readonly Verdict[];
      /** Before this tick traces are kept coarsely, to spare memory; 0: nowhere. */
      readonly coarse: number;
    }
  | { readonly say: 'watched'; readonly number: number; readonly facts: readonly (Watched | undefined)[] }
  /** The watched values at a tick, one after another; undefined while there are none. */
  | {
      readonly say: 'values';
      readonly number: number;
      readonly tick: number;
      readonly values: Float64Array<ArrayBuffer> | undefined;
    }
  | {
      readonly say: 'range';
      readonly number: number;
      readonly x: Float64Array<ArrayBuffer>;
      /** One a name; undefined where its trace is not kept. */
      readonly y: readonly (Float64Array<ArrayBuffer> | undefined)[];
    }
  | { readonly say: 'lanes'; readonly number: number; readonly lanes: readonly (readonly Stretch[] | undefined)[] }
  | { readonly say: 'table'; readonly number: number; readonly text: string }
  /** A setting that cannot be adjusted while the run goes: the run is of an earlier sheet now. */
  | { readonly say: 'cannot_set'; readonly setting: string }
  | { readonly say: 'cannot_nudge'; readonly why: string };
