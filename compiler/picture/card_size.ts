/** The geometry of a card: its size, its ports and what is drawn in it, from a plain description and nothing else. */

import type { Equation } from '../language/syntax.ts';
import { layoutCircle } from './card_circle.ts';
import { layoutRectangle } from './card_rectangle.ts';
import type { PutIn } from './formula.ts';
import type { Area, Mark, Point } from './marks.ts';

export type PortSide = 'left' | 'right' | 'top' | 'bottom';

export interface PortDescription {
  readonly name: string;
  readonly logic: boolean;
  /** How many values it carries: 1 for a scalar, 0 where that is not known yet. */
  readonly size: number;
  /** An optional input enters from below. */
  readonly optional: boolean;
  /** The kind of an open-ended input: `+`, `-`, `*`, `/` or a word. */
  readonly sign?: string;
}

export interface SettingDescription {
  readonly name: string;
  /** As shown: `0.5 rad/s`. */
  readonly value: string;
}

/** A value written at a corner of a little curve. */
export interface CurveCorner {
  readonly at: Point;
  readonly setting: string;
  readonly value: string;
}

/** A little graph of an output over an input, drawn in place of the law. */
export interface CurveDescription {
  /** In the units of the input and the output, from left to right; a jump has two points at one x. */
  readonly points: readonly Point[];
  readonly corners: readonly CurveCorner[];
}

export interface RowDescription {
  readonly port: string;
  readonly role: 'reason' | 'trip';
}

export interface CardDescription {
  readonly name: string;
  /** What it is, as a word: `lead–lag`. */
  readonly kind: string;
  readonly drawnAs: 'card' | 'circle' | 'curve';
  /** Equations to show. */
  readonly law: readonly Equation[];
  /** Values that stand in the law in place of the names of settings. */
  readonly values: Readonly<Record<string, PutIn>>;
  readonly curve?: CurveDescription;
  /** Settings shown as underlined blanks below the law, at most three. */
  readonly settings: readonly SettingDescription[];
  readonly inputs: readonly PortDescription[];
  readonly outputs: readonly PortDescription[];
  /** `undefined` where the sheet has one rate only. */
  readonly comb: { readonly every: number; readonly phase: number } | undefined;
  /** Which part of the card lies on the plant ground; of a sensor the inputs' half, of an actuator the outputs'. */
  readonly ground: 'none' | 'all' | 'inputs' | 'outputs';
  /** It keeps safe what follows it: a bar lies across the line from its first input to its first output. */
  readonly guards: boolean;
  /** Inputs that are a gate's reasons or trips; each has a box for its state. */
  readonly rows: readonly RowDescription[];
  readonly flip: boolean;
  /** Of a group: where the blocks inside stand and which feed which, to be drawn small from a distance. */
  readonly inside?: { readonly blocks: readonly Point[]; readonly wires: readonly (readonly [number, number])[] };
}

export interface CardPort {
  readonly name: string;
  readonly direction: 'in' | 'out';
  readonly side: PortSide;
  /** Where a line ends, from the card's top left corner. */
  readonly x: number;
  readonly y: number;
  readonly logic: boolean;
  readonly size: number;
  readonly optional: boolean;
  readonly sign?: string;
}

/** A blank: where an input field goes while the setting is edited. */
export interface Field extends Area {
  readonly setting: string;
  readonly text: string;
  /** Font size, px. */
  readonly fontSize: number;
}

export interface Plot {
  readonly area: Area;
  /** Values at its left and right edges, and at its lower and upper ones. */
  readonly x: readonly [number, number];
  readonly y: readonly [number, number];
}

export interface CardRow extends RowDescription {
  readonly box: Area;
  /** Where a saying fits. */
  readonly words: Area;
}

export interface Card {
  /** The width is a multiple of 20, the height one of 10. */
  readonly width: number;
  readonly height: number;
  readonly ports: readonly CardPort[];
  /** Everything drawn when near, in order. */
  readonly marks: readonly Mark[];
  /** What is drawn at middle distance: silhouette, name, the law's head, one tooth and a number. */
  readonly middle: readonly Mark[];
  readonly fields: readonly Field[];
  /** A gate's rows. */
  readonly rows: readonly CardRow[];
  /** A gate's line from its first input to its first output; the bar lies in its middle. */
  readonly bar: { readonly from: Point; readonly to: Point } | undefined;
  /** Where a state sentence goes (`at its limit`): below the card, outside it. */
  readonly state: Area;
  /** Of a curve, so that a live dot can ride on it. */
  readonly plot: Plot | undefined;
  /** Silhouette as path data: the card with its tab, or the circle. */
  readonly outline: string;
  /** What lines keep clear of: the card, and the arrowheads that enter from below. */
  readonly obstacle: Area;
  /** The part that lies on the plant ground. */
  readonly ground: Area | undefined;
  /** The law in words, for a label. */
  readonly spoken: string;
}

/** Lays a card out. The same description always gives the same card. */
export function layoutCard(description: CardDescription): Card {
  return description.drawnAs === 'circle' && description.inputs.length <= 3 && description.outputs.length === 1
    ? layoutCircle(description)
    : layoutRectangle(description);
}
