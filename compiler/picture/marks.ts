/** What a picture is made of: texts and paths with roles, so that screen and export draw the same things in their own ways. */

/** The three faces of the font `Loopwright Math`: regular, `font-style: italic`, `font-weight: bold`. */
export type Face = 'upright' | 'italic' | 'bold';

/** What a mark is for; `palette.ts` says how each role is drawn. */
export type Role =
  | 'card' // outline, filled with paper
  | 'plant_half' // tint of the half of a card that lies on the plant ground
  | 'name'
  | 'kind'
  | 'law'
  | 'blank' // underline of a number that can be edited in place
  | 'setting'
  | 'port'
  | 'row'
  | 'row_box'
  | 'sign'
  | 'bar' // lies across a gate's line
  | 'bar_line' // a gate's line from its input to its output
  | 'axis' // axes of a little curve
  | 'curve'
  | 'inside' // a block inside a group, small
  | 'comb'
  | 'tooth'
  | 'rest' // a tick the card does not run on
  | 'line'
  | 'line_logic'
  | 'line_blocked' // no way was found round the cards
  | 'line_under' // a pinned stretch under a card
  | 'arrow'
  | 'dot' // a branching point
  | 'open_end' // an input that nothing feeds, an output that feeds nothing
  | 'slash' // across a line of several values
  | 'mark_face' // clears the paper under a mark on a line
  | 'mark' // a riser or a ring, where a line crosses rates
  | 'mark_text'
  | 'chip' // a conversion of units
  | 'torn' // the end of a line that goes on elsewhere
  | 'frame' // the inner line of the paper's frame
  | 'frame_fine'
  | 'zone'
  | 'title_block'
  | 'title'
  | 'entry_label'
  | 'entry'
  | 'stamp'
  | 'stamp_text'
  | 'remark' // a frame round some cards
  | 'note';

export interface TextMark {
  readonly shape: 'text';
  readonly role: Role;
  /** Left end of the baseline, or its right end or middle as `anchor` says. */
  readonly x: number;
  readonly y: number;
  /** Font size, px. */
  readonly size: number;
  readonly text: string;
  readonly face: Face;
  readonly anchor: 'start' | 'middle' | 'end';
  /** The setting this text shows, if it is one. */
  readonly setting?: string;
}

export interface PathMark {
  readonly shape: 'path';
  readonly role: Role;
  /** SVG path data. */
  readonly d: string;
}

export type Mark = TextMark | PathMark;

export interface Point {
  readonly x: number;
  readonly y: number;
}

export interface Area {
  readonly x: number;
  readonly y: number;
  readonly width: number;
  readonly height: number;
}
