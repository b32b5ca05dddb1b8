/** C that replays a run's raw inputs and compares every output's and every memory's bits with a reference. */

import type { Program, Type } from '../ir/program.ts';
import { cFields } from './emit.ts';
import { isArray } from './fields.ts';
import { type CFile, cFile, comment, plain } from './lines.ts';
import { fileName, prefixOf } from './names.ts';
import { comparableSlots } from './prepare.ts';
import type { Column, Reference } from './reference.ts';
import { fromStream, speech, streamsText, sumComparison, supportFor, toPattern } from './selfcheck_text.ts';
import { Store, type Stream } from './stored.ts';

/** What the self-check needs of the machine it runs on. */
export interface Machinery {
  /** Lines of `#include` for the rest. */
  readonly includes: readonly string[];
  /** A statement that says a text; the second one where something is wrong. */
  readonly say: (text: string) => string;
  readonly tell: (text: string) => string;
  /** Declares the bytes and `static uint8_t stored_byte(uint32_t at)`. */
  readonly keep: (bytes: readonly number[]) => string;
  /** The rest of the file: `main`, if that stands here. */
  readonly main: (name: string) => string;
}

/** A machine with an operating system. */
export const hosted: Machinery = {
  includes: ['<stdio.h>'],
  say: (text) => `(void)fputs(${text}, stdout);`,
  tell: (text) => `(void)fputs(${text}, stderr);`,
  keep: (bytes) => `static const uint8_t stored[${Math.max(1, bytes.length)}] = {
${byteRows(bytes)}
};

static uint8_t stored_byte(uint32_t at)
{
    return stored[at];
}`,
  main: (name) => `int main(void)
{
    static ${name}_t m;
    static ${name}_in_t in;
    static ${name}_out_t out;
    return ${name}_selfcheck(&m, &in, &out);
}`,
};

export interface SelfcheckOptions {
  /** The name given to `emitC`. */
  readonly name: string;
  /** Name of the run, for the comment. */
  readonly run?: string;
  readonly machinery?: Machinery;
}

/**
 * `selfcheck.c`. `NAME_selfcheck` says one line, `N passed, N failed`, with N = ticks × values, and gives 0 only if none
 * failed and there were any; what differs first is told apart. `main` gives what it gives. The program is that of `emitC`.
 */
export function emitSelfcheck(program: Program, reference: Reference, options: SelfcheckOptions): CFile {
  const name = prefixOf(options.name);
  const machinery = options.machinery ?? hosted;
  const { expected, ticks, values } = reference;
  const { store, streams, feed, compare, sums } = gather(program, reference);
  const loop = `    for (uint32_t tick = 0U; tick < UINT32_C(${ticks}); tick++) {
${indented(feed)}
        ${name}_tick(m, in, out);
${expected.kind === 'sums' ? sumComparison(compare, values, sums) : indented(compare)}
    }
`;
  const rest = `int ${name}_selfcheck(${name}_t *m, ${name}_in_t *in, ${name}_out_t *out)
{
${streams.length === 0 ? '' : streamsText(streams)}    tally_t tally = {0UL, 0UL};
    char digits[24];
    const int sound = ${name}_arithmetic_ok();
    if (sound == 0) {
        tell("this machine does not compute as the simulation does: see ${name}_arithmetic_ok\\n");
    }
    (void)memset(in, 0, sizeof *in);
    (void)memset(out, 0, sizeof *out);
    ${name}_start(m);
${ticks === 0 ? '' : loop}    say(decimal(digits, tally.passed));
    say(" passed, ");
    say(decimal(digits, tally.failed));
    say(" failed\\n");
    return ((tally.failed == 0UL) && (tally.passed > 0UL) && (sound != 0)) ? 0 : 1;
}

${machinery.main(name)}`;
  const text = `#include "${fileName(options.name)}.h"

${[...machinery.includes, '<string.h>'].map((header) => `#include ${header}`).join('\n')}

typedef struct {
    unsigned long passed;
    unsigned long failed;
} tally_t;

${speech(machinery)}
${ticks === 0 ? '' : `${machinery.keep(store.bytes)}\n\n`}${supportFor(`decimal ${ticks === 0 ? '' : loop}`)}${rest}`;
  const of = options.run === undefined ? '' : ` of the run "${options.run}"`;
  const about = `Replays the raw inputs of ${ticks} ticks${of} and compares the bits of ${values} values at each of them${
    expected.kind === 'sums' ? ', by one checksum a tick' : ''
  }. What is expected comes from the simulation; nothing is worked out anew here.`;
  return cFile('selfcheck.c', [...comment(about).map((line) => ({ text: line })), ...plain(text.trimEnd())]);
}

/** The bytes that a self-check of a program keeps. */
export function storedBytes(program: Program, reference: Reference): readonly number[] {
  return gather(program, reference).store.bytes;
}

/** Rows of numbers for an array of bytes. */
export function byteRows(bytes: readonly number[]): string {
  const rows: string[] = [];
  for (let i = 0; i < bytes.length; i += 32) rows.push(`    ${bytes.slice(i, i + 32).join(',')},`);
  return rows.length === 0 ? '    0,' : rows.join('\n');
}

/** Everything kept, where its streams begin, and the statements that use them. */
function gather(program: Program, reference: Reference) {
  const { expected, ticks } = reference;
  const store = new Store();
  const streams: Stream[] = [];
  const { feed, compare } =
    ticks === 0
      ? { feed: [], compare: [] }
      : statements(program, reference, (type, column) => {
          streams.push(...store.add(type, column.numbers));
        });
  const sums = expected.kind === 'sums' ? store.addWords(expected.sums) : 0;
  return { store, streams, feed, compare, sums };
}

/** What feeds a tick and what judges it, in the order in which their columns are kept. */
function statements(
  program: Program,
  { inputs, expected }: Reference,
  keep: (type: Type, column: Column) => void,
): { feed: string[]; compare: string[] } {
  const feed: string[] = [];
  const compare: string[] = [];
  const fields = cFields(program);
  let next = 0;
  const width = (type: Type): number => (type === 'f64' ? 2 : 1);
  const each = (
    type: Type,
    length: number,
    array: boolean,
    say: (index: string, stream: string, i: string) => string,
  ) => {
    if (!array) return [say('', String(next), '0U')];
    const stream = type === 'f64' ? `${next}U + (2U * i)` : `${next}U + i`;
    return [`for (uint32_t i = 0U; i < ${length}U; i++) {`, `    ${say('[i]', stream, 'i')}`, '}'];
  };
  for (const { slot, name } of fields.in) {
    const read = (index: string, stream: string) => `in->${name}${index} = ${fromStream[slot.type](stream)};`;
    feed.push(...each(slot.type, slot.length, isArray(slot), read));
    for (const column of inputs) if (column.slot === slot.id) keep(slot.type, column);
    next += slot.length * width(slot.type);
  }
  for (const slot of comparableSlots(program, ['tick'])) {
    const place = fields.places.get(slot.id);
    if (place === undefined) throw new Error(`${slot.name} has no field`);
    const pattern = (index: string): string => toPattern[slot.type](`${place.holder}->${place.name}${index}`);
    if (expected.kind === 'sums') {
      const mix = slot.type === 'f64' ? 'mixed_pair' : 'mixed';
      compare.push(...each(slot.type, slot.length, isArray(slot), (index) => `sum = ${mix}(sum, ${pattern(index)});`));
      continue;
    }
    compare.push(
      ...each(slot.type, slot.length, isArray(slot), (index, stream, i) => {
        const want = slot.type === 'f64' ? `next_pair(&streams[${stream}])` : `next_word(&streams[${stream}])`;
        return `compare(&tally, tick, "${place.name}", ${i}, ${pattern(index)}, ${want});`;
      }),
    );
    for (const column of expected.columns) if (column.slot === slot.id) keep(slot.type, column);
    next += slot.length * width(slot.type);
  }
  return { feed, compare };
}

const indented = (lines: readonly string[]): string => lines.map((line) => `        ${line}`).join('\n');
