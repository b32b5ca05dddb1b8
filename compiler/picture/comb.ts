/** The comb: a strip of base ticks with the teeth filled on which something runs. */

import type { Mark } from './marks.ts';
import { textWidth } from './metrics.ts';

/** Ticks shown by a card's comb, the same for all cards so that they can be compared. */
export const COMB_TICKS = 12;

export interface CombTick {
  /** A tooth where it runs, a rest where it does not, a break where ticks are left out. */
  readonly kind: 'tooth' | 'rest' | 'break';
}

/** What a comb shows, from tick 0 on; beyond every 12th tick a short comb with a break. */
export function combTicks(every: number, phase: number, ticks = COMB_TICKS): readonly CombTick['kind'][] {
  if (every > COMB_TICKS) return ['tooth', 'rest', 'break', 'rest', 'tooth'];
  return Array.from({ length: ticks }, (_, tick) =>
    (((tick - phase) % every) + every) % every === 0 ? 'tooth' : 'rest',
  );
}

export interface Comb {
  readonly marks: readonly Mark[];
  readonly width: number;
}

export interface CombOptions {
  /** From tick to tick, px. */
  readonly pitch: number;
  /** Of a tooth, px. */
  readonly height: number;
  readonly ticks?: number;
  /** Whether the number stands beside it where it is not 1. */
  readonly numbered: boolean;
}

/** A comb standing on a line at `y`, from `x` on. */
export function layoutComb(every: number, phase: number, x: number, y: number, options: CombOptions): Comb {
  const { pitch, height } = options;
  const ticks = combTicks(every, phase, options.ticks);
  const tooth = pitch * 0.66;
  let teeth = '';
  let rests = '';
  ticks.forEach((kind, i) => {
    const left = x + i * pitch;
    const middle = left + tooth / 2;
    if (kind === 'tooth') teeth += `M${round(left)} ${y}v${-height}h${round(tooth)}v${height}z`;
    else if (kind === 'rest') rests += `M${round(middle)} ${y}v${round(-height * 0.55)}`;
    else rests += `M${round(middle - 2)} ${y + 2}l4 ${-height - 2}`;
  });
  let width = ticks.length * pitch;
  const marks: Mark[] = [
    { shape: 'path', role: 'comb', d: `M${x} ${y}h${round(width - pitch + tooth)}` },
    ...(rests === '' ? [] : [{ shape: 'path', role: 'rest', d: rests } as const]),
    ...(teeth === '' ? [] : [{ shape: 'path', role: 'tooth', d: teeth } as const]),
  ];
  if (options.numbered && every !== 1) {
    const size = Math.round(height * 1.5);
    const text = String(every);
    marks.push({ shape: 'text', role: 'comb', x: x + width + 2, y, size, text, face: 'upright', anchor: 'start' });
    width += 2 + textWidth(text, size);
  }
  return { marks, width };
}

function round(value: number): number {
  return Math.round(value * 100) / 100;
}
