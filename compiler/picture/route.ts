/** What routing takes and gives: ports, nets, and routes as they are drawn, picked and kept. */

import type { PortSide } from './card_size.ts';
import type { Area, Point } from './marks.ts';

/** An end of a line, on the edge of a card or inside its rectangle (a circle's port). */
export interface RoutePort {
  /** `tilt.angle`. */
  readonly name: string;
  readonly card: string;
  readonly x: number;
  readonly y: number;
  /** The way a line leaves it. */
  readonly side: PortSide;
}

/** One output and all inputs it feeds. */
export interface Net {
  /** The output: `imu.tilt`. */
  readonly from: RoutePort;
  readonly to: readonly RoutePort[];
}

export interface RouteSegment {
  readonly from: Point;
  readonly to: Point;
}

export interface Route {
  /** Name of the output. */
  readonly net: string;
  /** The tree cut where it branches: every stretch once, to draw. */
  readonly lines: readonly (readonly Point[])[];
  /** Branching points. */
  readonly dots: readonly Point[];
  /** From the output to each input, by the input's name: to pick and to walk. */
  readonly leaves: Readonly<Record<string, readonly Point[]>>;
  /** Pinned stretches that run under a card, to be drawn broken. */
  readonly under: readonly { readonly card: string; readonly segment: RouteSegment }[];
  /** True where no way was found and the line goes straight through. */
  readonly blocked: boolean;
  /** True for a long line drawn in haste, to be settled later. */
  readonly rough: boolean;
}

export interface RouteRequest {
  /** Rectangles of all cards, by name. */
  readonly cards: Readonly<Record<string, Area>>;
  readonly nets: readonly Net[];
  /** Earlier routes by net; one that still ends at its ports and is not blocked is kept as it is. */
  readonly old?: Readonly<Record<string, Route>>;
  /** Nets to route anew even though their old route would do. */
  readonly touched?: ReadonlySet<string>;
  /** Segments a line is held to, in order, by the input it feeds (`desk.lines`). */
  readonly pinned?: Readonly<Record<string, readonly RouteSegment[]>>;
  /** While dragging: lines over 1,500 px are drawn in haste (`rough`). */
  readonly quick?: boolean;
}
