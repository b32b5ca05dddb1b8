/** What a target is: which files stand around a program so that one kind of machine builds, checks and runs it. */

import type { Program, Real } from '../../ir/program.ts';
import { cFields, emitC } from '../emit.ts';
import type { Fields } from '../fields.ts';
import { type CFile, plain } from '../lines.ts';
import { cName, fileName, prefixOf } from '../names.ts';
import { firstTicks, type Reference } from '../reference.ts';
import { emitSelfcheck, type Machinery, storedBytes } from '../selfcheck.ts';
import { operationsAtMost } from '../work.ts';

export interface Target {
  readonly name: string;
  /** What it is for, for lists of targets. */
  readonly about: string;
  /** What the machine has to be, for the header. */
  readonly machine: string;
  /** Real types it can compute with. */
  readonly numbers: readonly Real[];
  /** How scalars are aligned at most, where one answer holds. */
  readonly alignment?: number;
  /** Whether usual headers of the machine make macros of its registers. */
  readonly registers?: boolean;
  /** Divides by own code. */
  readonly ownDivision?: boolean;
  /** More to be careful about, one sentence each. */
  readonly cautions: readonly string[];
  /** Bytes that a self-check may take; ticks that do not fit are left out. */
  readonly room: number;
  /** Whether the self-check compares number by number where there are few, rather than by a checksum a tick. */
  readonly eachNumber: boolean;
  /** How the self-check keeps its bytes, speaks and starts. */
  readonly machinery: Machinery;
  /** Everything besides the program and its self-check. */
  readonly around: (made: Made) => readonly CFile[];
}

/** A program to be made for a target. */
export interface Request {
  /** Name of the sheet's file without its endings. */
  readonly name: string;
  readonly title: string;
  readonly program: Program;
  /** The base period as the sheet says it, and in seconds. */
  readonly tick: { readonly text: string; readonly seconds: number };
  /** Whether actuators change in the tick that computes their commands, or at the next. */
  readonly outputs: 'at_once' | 'next_tick';
  readonly sheetHash?: string;
  /** The run to be replayed at start-up. */
  readonly check?: { readonly run: string; readonly reference: Reference };
}

/** What the files around a program are written from. */
export interface Made extends Request {
  /** Base name of the program's files. */
  readonly file: string;
  /** What its names in C begin with. */
  readonly prefix: string;
  readonly fields: Fields;
  /** Operations of a tick at most. */
  readonly operations: number;
  /** Ticks that the self-check replays; of those asked for. */
  readonly ticks: number;
}

/** All files of a program for a target; the same request gives the same bytes. */
export function emitTarget(target: Target, request: Request): CFile[] {
  const program = namedFor(target, request.program);
  const reference = request.check === undefined ? undefined : fitting(target, program, request.check.reference);
  const made: Made = {
    ...request,
    program,
    file: fileName(request.name),
    prefix: prefixOf(request.name),
    fields: cFields(program, ['tick'], target.alignment),
    operations: operationsAtMost(program).get('tick') ?? 0,
    ticks: reference?.ticks ?? 0,
  };
  const sources = emitC(program, {
    name: request.name,
    purpose: request.title,
    tick: request.tick.text,
    target: target.machine,
    cautions: target.cautions,
    ...(request.sheetHash === undefined ? {} : { sheetHash: request.sheetHash }),
    ...(target.alignment === undefined ? {} : { alignment: target.alignment }),
    ...(target.ownDivision === undefined ? {} : { ownDivision: target.ownDivision }),
    ...(request.check === undefined ? {} : { selfcheck: request.check.run }),
  });
  const check =
    reference === undefined
      ? []
      : [
          emitSelfcheck(program, reference, {
            name: request.name,
            machinery: target.machinery,
            ...(request.check === undefined ? {} : { run: request.check.run }),
          }),
        ];
  return [...sources, ...check, ...target.around(made)];
}

/**
 * The program as a target spells it: where a board's headers make macros of its registers, a name that is all capitals
 * gets a `_` at its end.
 */
export function namedFor({ registers }: Target, program: Program): Program {
  if (registers !== true) return program;
  const isOne = (name: string): boolean => /^[A-Z][A-Z0-9_]*$/.test(cName(name));
  const slots = program.slots.map((slot) => (isOne(slot.name) ? { ...slot, name: `${slot.name}_` } : slot));
  return { ...program, slots };
}

/** The reference, or as many of its first ticks as the target has room for. */
function fitting({ room }: Target, program: Program, whole: Reference): Reference {
  let reference = whole;
  for (;;) {
    const bytes = storedBytes(program, reference).length;
    if (bytes <= room || reference.ticks === 0) return reference;
    reference = firstTicks(whole, Math.floor(reference.ticks * Math.min(0.95, (0.98 * room) / bytes)));
  }
}

/** A file that says no block. */
export function textFile(name: string, text: string): CFile {
  const lines = plain(text.trimEnd());
  return { name, text: `${lines.map((line) => line.text).join('\n')}\n`, lines: lines.map(() => undefined) };
}

/** Nanoseconds of a tick. */
export function nanoseconds({ seconds }: Made['tick']): number {
  return Math.round(seconds * 1e9);
}
