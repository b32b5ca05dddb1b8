/** An expression of the block language as typeset mathematics: boxes with sizes, and the runs and rules to draw. */

import type { Equation, Expression } from '../language/syntax.ts';
import type { Face } from './marks.ts';

/** Text at a place: `x`, `y` are the left end of its baseline; the formula's own baseline is at 0, y goes down. */
export interface Run {
  readonly x: number;
  readonly y: number;
  /** Font size, px. */
  readonly size: number;
  readonly text: string;
  readonly face: Face;
  /** `face === 'italic'`. */
  readonly italic: boolean;
  /** The setting whose value this is, in a law with numbers put in. */
  readonly setting?: string;
}

/** A filled bar: of a fraction, over a root, under a number that can be edited (then `setting` names it). */
export interface Rule {
  readonly x: number;
  readonly y: number;
  readonly width: number;
  readonly height: number;
  readonly setting?: string;
}

export interface Formula {
  readonly width: number;
  /** Above and below the baseline, both positive. */
  readonly ascent: number;
  readonly descent: number;
  /** How far above the baseline bars of fractions and arms of plus signs are. */
  readonly axis: number;
  readonly runs: readonly Run[];
  readonly rules: readonly Rule[];
}

export interface FormulaOptions {
  /** Font size, px; 15 if unsaid. */
  readonly size?: number;
  /** Break lines wider than this, px. */
  readonly maxWidth?: number;
}

export interface FormulaApi {
  /** Typesets an expression. */
  layoutFormula(expression: Expression, options?: FormulaOptions): Formula;
  /** Typesets an equation: `y = …`, `x⁺ = …`, `dx/dt = …`. */
  layoutEquation(equation: Equation, options?: FormulaOptions): Formula;
  /** In words, for a label: "y equals 1 over 1 plus s over corner, times u". */
  formulaSpoken(expression: Expression): string;
  equationSpoken(equation: Equation): string;
}
