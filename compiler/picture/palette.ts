/** How each role is drawn, in light and in dark: the one table for screen, export and report. */

import type { Role } from './marks.ts';

export type Theme = 'light' | 'dark';

export interface Palette {
  readonly paper: string;
  /** Of a card's face. */
  readonly card: string;
  readonly ink: string;
  /** Ink for what is said in passing; 4.5:1 on paper, card and ground. */
  readonly muted: string;
  /** Fine lines that need not be read. */
  readonly faint: string;
  readonly ground: string;
  readonly hatch: string;
  readonly copper: string;
  readonly warning: string;
  readonly fault: string;
}

export const palettes: Readonly<Record<Theme, Palette>> = {
  light: {
    paper: '#F7F1E4',
    card: '#FDFAF3',
    ink: '#1E2A3C',
    muted: '#565F6E',
    faint: '#A9A596',
    ground: '#EDE3CD',
    hatch: '#B9AB88',
    copper: '#8A4B14',
    warning: '#8A6100',
    fault: '#A3123A',
  },
  dark: {
    paper: '#10203A',
    card: '#172A48',
    ink: '#EDE6D6',
    muted: '#A9B3C3',
    faint: '#55657F',
    ground: '#1D3252',
    hatch: '#4A6286',
    copper: '#D08A4A',
    warning: '#E5B94A',
    fault: '#FF8A8A',
  },
};

export interface Style {
  readonly fill?: keyof Palette;
  readonly stroke?: keyof Palette;
  /** px. */
  readonly width?: number;
  readonly dash?: string;
}

export const styles: Readonly<Record<Role, Style>> = {
  card: { fill: 'card', stroke: 'ink', width: 1.5 },
  plant_half: { fill: 'ground' },
  name: { fill: 'ink' },
  kind: { fill: 'muted' },
  law: { fill: 'ink' },
  blank: { fill: 'muted' },
  setting: { fill: 'ink' },
  port: { fill: 'muted' },
  row: { fill: 'ink' },
  row_box: { stroke: 'ink', width: 1.1 },
  sign: { fill: 'ink' },
  bar: { stroke: 'ink', width: 2.4 },
  bar_line: { stroke: 'ink', width: 1.4 },
  axis: { stroke: 'faint', width: 1 },
  curve: { stroke: 'ink', width: 1.8 },
  inside: { fill: 'card', stroke: 'muted', width: 1.4 },
  comb: { fill: 'muted', stroke: 'faint', width: 0.8 },
  tooth: { fill: 'ink' },
  rest: { stroke: 'muted', width: 1 },
  line: { stroke: 'ink', width: 1.4 },
  line_logic: { stroke: 'ink', width: 1.4, dash: '5 3.5' },
  line_blocked: { stroke: 'fault', width: 1.4, dash: '2 4' },
  line_under: { stroke: 'ink', width: 1.4, dash: '2 5' },
  arrow: { fill: 'ink' },
  dot: { fill: 'ink' },
  open_end: { fill: 'card', stroke: 'ink', width: 1.2 },
  slash: { stroke: 'ink', width: 1.2 },
  mark_face: { fill: 'paper' },
  mark: { stroke: 'ink', width: 1.3 },
  mark_text: { fill: 'muted' },
  chip: { fill: 'paper', stroke: 'muted', width: 0.9 },
  torn: { stroke: 'ink', width: 1.4 },
  frame: { stroke: 'ink', width: 1.6 },
  frame_fine: { stroke: 'muted', width: 0.8 },
  zone: { fill: 'muted' },
  title_block: { fill: 'paper', stroke: 'ink', width: 1.6 },
  title: { fill: 'ink' },
  entry_label: { fill: 'muted' },
  entry: { fill: 'ink' },
  stamp: { stroke: 'muted', width: 1.4 },
  stamp_text: { fill: 'muted' },
  remark: { stroke: 'muted', width: 1, dash: '8 4' },
  note: { fill: 'muted' },
};
