/** The geometry of a card: its size, its ports and what is drawn in it, from a plain description and nothing else. */

import type { Equation } from '../language/syntax.ts';
import type { Area, Mark, Point } from './marks.ts';

export type PortSide = 'left' | 'right' | 'top' | 'bottom';

export interface PortDescription {
  readonly name: string;
  readonly logic: boolean;
  /** How many values it carries: 1 for a scalar. */
  readonly size: number;
  /** The kind of an open-ended input: `+`, `-`, `*`, `/` or a word. */
  readonly sign?: string;
}

export interface SettingDescription {
  readonly name: string;
  /** As shown: `0.5 rad/s`. */
  readonly value: string;
}

/** A short straight-sided or smooth graph of an output over an input, drawn in place of the law. */
export interface CurveDescription {
  readonly points: readonly Point[];
  /** Values written at corners, with the settings they come from. */
  readonly corners: readonly {
    readonly at: Point;
    readonly setting: string;
    readonly value: string;
    readonly along: 'x' | 'y';
  }[];
}

export interface CardDescription {
  readonly name: string;
  /** What it is, as a word: `lead–lag`. */
  readonly kind: string;
  readonly drawnAs: 'card' | 'circle' | 'curve';
  /** Equations with their numbers put in; at most as many as are to be shown. */
  readonly law: readonly Equation[];
  readonly curve?: CurveDescription;
  /** Settings shown as underlined blanks below the law, at most three. */
  readonly settings: readonly SettingDescription[];
  readonly inputs: readonly PortDescription[];
  readonly outputs: readonly PortDescription[];
  /** `undefined` where the sheet has one rate only. */
  readonly comb: { readonly every: number; readonly phase: number } | undefined;
  /** Which part of the card lies on the plant ground; a sensor's inputs' half, an actuator's outputs' half. */
  readonly ground: 'none' | 'all' | 'inputs' | 'outputs';
  /** Inputs that are a gate's reasons or trips get a row with a box for their state. */
  readonly rows: readonly { readonly port: string; readonly role: 'reason' | 'trip' }[];
  readonly flip: boolean;
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
  readonly sign?: string;
}

/** A blank: where an input field goes while the setting is edited. */
export interface Field extends Area {
  readonly setting: string;
  readonly text: string;
  /** Font size, px. */
  readonly size: number;
}

export interface Card {
  /** Multiples of 20. */
  readonly width: number;
  readonly height: number;
  readonly ports: readonly CardPort[];
  /** Everything drawn when near, in order. */
  readonly marks: readonly Mark[];
  /** What is drawn at middle distance: silhouette, the law's head, comb number. */
  readonly middle: readonly Mark[];
  readonly fields: readonly Field[];
  /** A gate's rows: where the state box is, and where a saying fits. */
  readonly rows: readonly {
    readonly port: string;
    readonly role: 'reason' | 'trip';
    readonly box: Area;
    readonly words: Area;
  }[];
  /** Where a state sentence goes (`at its limit`): below the card, outside it. */
  readonly state: Area;
  /** Of a curve: paper px per unit, so that a live dot can ride on it. */
  readonly plot?: { readonly area: Area; readonly x: readonly [number, number]; readonly y: readonly [number, number] };
  /** Silhouette as path data: the card with its tab, or the circle. */
  readonly outline: string;
  readonly ground: Area | undefined;
  /** In words, for a label. */
  readonly spoken: string;
}

/** Lays a card out. */
export type LayoutCard = (description: CardDescription) => Card;
