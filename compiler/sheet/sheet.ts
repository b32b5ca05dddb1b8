/** The sheet: one machine, its plant and its controller, as the records a `NAME.sheet.json` holds once it is loaded. */

/** The version of the file format this program writes. */
export const SHEET_VERSION = 1;

/** A finite SI number, or an expression in the sheet's `names` and units: `5 ms`, `2 * stiffness`. */
export type Quantity = number | string;

/**
 * What a setting or a build setting is put to: a number, an expression, one of the block's own words, a truth, or an
 * array of those (a matrix is an array of rows).
 */
export type SettingValue = Quantity | boolean | readonly SettingValue[];

/** Things keyed by their names. Read a name that comes from elsewhere with `entry`. */
export type Named<T> = Readonly<Record<string, T>>;

/** Pixels to the right and down. */
export type Point = readonly [x: number, y: number];

/** Where a card stands; flipped, its inputs are on the right. */
export type Spot = Point | { readonly at: Point; readonly flip?: boolean };

export type Side = 'plant' | 'controller';

/** The whole document. Loading fills in what a file leaves out, so every field is there. */
export interface Sheet {
  readonly loopwright: typeof SHEET_VERSION;
  readonly title: string;
  /** The base period: a time. */
  readonly tick: Quantity;
  /** The type of the controller's real numbers. */
  readonly number: 'f32' | 'f64';
  readonly schedule: 'single' | 'layered';
  /** In a layered schedule, what a release does that finds its task still running: leaves it out, or stops everything. */
  readonly overrun: 'skip' | 'trip';
  readonly outputs: 'at_once' | 'next_tick';
  /** Solver steps a tick, 1 if unsaid. */
  readonly plant_steps: number;
  /** Quantities with names, for expressions. */
  readonly names: Named<Quantity>;
  readonly blocks: Named<BlockOnSheet>;
  /** The output that each input takes, keyed by the input: `"tilt.angle": "imu.tilt"`. */
  readonly wires: Named<string>;
  /** The user's own blocks: a text in the block language, or a group. */
  readonly shelf: Named<string | Group>;
  readonly runs: Named<Run>;
  readonly desk: Desk;
  /** Why a finding is not to be shown, keyed by `ID PLACE`. */
  readonly silenced: Named<string>;
  /** What checks at the first power-up gave, keyed by `block.check`. */
  readonly checked: Named<Checked>;
  /** Hash of every library block used, by its name, and of the arithmetic, as `arithmetic`. */
  readonly versions: Named<string>;
  readonly layout: Named<Spot>;
}

/** One block, or an instance of a group, as it stands on a sheet or in a group. */
export interface BlockOnSheet {
  /** The block's name on the shelf. */
  readonly is: string;
  /** Settings by name; inside a group, by dotted path. */
  readonly set?: Named<SettingValue>;
  /** Runs on every so many ticks, from tick `phase` on. */
  readonly every?: number;
  readonly phase?: number;
  /** A port of the sheet around it: while it is false a group does not run. */
  readonly when?: string;
  readonly side?: Side;
  /** Open-ended inputs: the kind of each, by its name. */
  readonly inputs?: Named<string>;
}

/** A block drawn from other blocks. Undotted names in its wires are its ports. */
export interface Group {
  /** What it is for, in one sentence. */
  readonly about?: string;
  readonly ports: Named<GroupPort>;
  readonly blocks: Named<BlockOnSheet>;
  readonly wires: Named<string>;
  readonly layout: Named<Spot>;
}

/** A port with its type as in the block language: `rad/s`, `bool`, `[3] m/s^2`, or nothing for a dimensionless one. */
export type GroupPort = { readonly in: string } | { readonly out: string };

/** One recorded scenario. */
export interface Run {
  /** How long: a time. */
  readonly for?: Quantity;
  readonly seed?: number;
  /** Settings put before compiling, by `block.setting`. */
  readonly set?: Named<SettingValue>;
  /** Ports, memories and settings to record, in this order. */
  readonly record?: readonly string[];
  readonly nudges?: Named<Nudge>;
  /** Sentences the run must satisfy: `abs(body.lean) < 10 deg always from 4 s`. */
  readonly expect?: Named<string>;
}

/** A disturbance put in by hand while `at` ≤ t < `at` + `for`; without `for`, to the end. */
export type Nudge = AddToPort | PutPort | PutSetting;

interface AddToPort {
  readonly at: Quantity;
  readonly for?: Quantity;
  readonly port: string;
  readonly add: Quantity;
}

/** An input: that reader only; an output: all its readers. `nan` and `held` are words. */
interface PutPort {
  readonly at: Quantity;
  readonly for?: Quantity;
  readonly port: string;
  readonly to: Quantity | boolean;
}

/** Puts a setting to a new value from then on. */
interface PutSetting {
  readonly at: Quantity;
  readonly setting: string;
  readonly to: SettingValue;
}

export interface Checked {
  readonly result: number | string | boolean;
  /** Of what was checked, so that a changed design asks again. */
  readonly hash: string;
}

/** How the sheet is looked at: nothing here changes what it means. */
export interface Desk {
  /** The unit a port is shown in, by port. */
  readonly show: Named<string>;
  /** Ports whose values stay on the paper, by port. */
  readonly pins: Named<Pin>;
  readonly charts: Named<Chart>;
  readonly frames: Named<Frame>;
  readonly notes: Named<NoteOnPaper>;
  /** Segments a line is held to, by the input it feeds. */
  readonly lines: Named<readonly Segment[]>;
  /** Lines drawn as two torn ends, by the input they feed. */
  readonly taps: Named<Tap>;
}

export interface Pin {
  /** Where its slip stands, from the port. */
  readonly at?: Point;
  /** Which of the trace colours, from 0. */
  readonly trace?: number;
}

export interface Chart {
  /** Ports drawn, in this order. */
  readonly traces: readonly string[];
  readonly title?: string;
  /** Charts stand by this, then by name. */
  readonly order?: number;
  /** Pixels. */
  readonly height?: number;
  /** Ends of the scale in the shown unit; left out, the chart finds its own. */
  readonly low?: number;
  readonly high?: number;
}

export interface Frame {
  readonly at: Point;
  readonly size: Point;
  readonly title?: string;
  /** The shelf group it is drawn in; left out, the sheet. */
  readonly in?: string;
}

export interface NoteOnPaper {
  readonly at: Point;
  readonly size?: Point;
  readonly text: string;
  /** The shelf group it is drawn in; left out, the sheet. */
  readonly in?: string;
}

/** From one end to the other: level or upright. */
export type Segment = readonly [from: Point, to: Point];

export interface Tap {
  /** What stands at the torn ends; left out, the source's name. */
  readonly label?: string;
}

/** An empty sheet with the usual choices. */
export function blankSheet(title = ''): Sheet {
  return {
    loopwright: SHEET_VERSION,
    title,
    tick: '5 ms',
    number: 'f32',
    schedule: 'single',
    overrun: 'skip',
    outputs: 'at_once',
    plant_steps: 1,
    names: {},
    blocks: {},
    wires: {},
    shelf: {},
    runs: {},
    desk: { show: {}, pins: {}, charts: {}, frames: {}, notes: {}, lines: {}, taps: {} },
    silenced: {},
    checked: {},
    versions: {},
    layout: {},
  };
}

/** What a record holds under a name, and nothing that JavaScript put there. */
export function entry<T>(record: Named<T>, name: string): T | undefined {
  return Object.hasOwn(record, name) ? record[name] : undefined;
}

/** Whether a thing on the shelf is a group; otherwise it is a text. */
export function isGroup(onShelf: string | Group): onShelf is Group {
  return typeof onShelf !== 'string';
}

/** A spot's point. */
export function pointOf(spot: Spot): Point {
  return isPoint(spot) ? spot : spot.at;
}

/** Whether a spot is flipped. */
export function isFlipped(spot: Spot): boolean {
  return !isPoint(spot) && spot.flip === true;
}

function isPoint(spot: Spot): spot is Point {
  return Array.isArray(spot);
}
