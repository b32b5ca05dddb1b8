/** A C program that replays a run's raw inputs and compares every output's and every memory's bits with a reference. */

import type { Program, Type } from '../ir/program.ts';
import { cFields } from './emit.ts';
import { isArray } from './fields.ts';
import { type CFile, cFile, comment, plain } from './lines.ts';
import { cName } from './names.ts';
import { comparableSlots } from './prepare.ts';
import { type Column, patternOf, type Reference } from './reference.ts';

/** The numbers of a column as patterns, each with how often it comes in a row. */
interface Pool {
  readonly patterns: string[];
  readonly runs: number[];
}

/**
 * `selfcheck.c`. Its `main` prints one line, `N passed, N failed`, with N = ticks × values, and gives 0 only if none failed
 * and there were any; what differs first is told on standard error. The program and the name are those given to `emitC`.
 */
export function emitSelfcheck(program: Program, reference: Reference, options: { readonly name: string }): CFile {
  const name = cName(options.name);
  const fields = cFields(program);
  const pools = { word: { patterns: [], runs: [] }, pair: { patterns: [], runs: [] } } as Record<'word' | 'pair', Pool>;
  const starts: number[] = [];
  const addColumn = (column: Column): void => {
    const type = typeOf(program, column.slot);
    const pool = pools[reader(type)];
    starts.push(pool.patterns.length);
    append(pool, type, column.numbers);
  };

  const feed: string[] = [];
  for (const { slot, name: field } of fields.in) {
    const next = (column: string): string => fromPattern[slot.type](`next_${reader(slot.type)}(&columns[${column}])`);
    feed.push(
      ...forElements(slot.length, starts.length, isArray(slot), (index, at) => `in.${field}${index} = ${next(at)};`),
    );
    for (const column of reference.inputs) if (column.slot === slot.id) addColumn(column);
  }
  const compare: string[] = [];
  const { expected } = reference;
  for (const slot of comparableSlots(program, ['tick'])) {
    const place = fields.places.get(slot.id);
    if (place === undefined) throw new Error(`${slot.name} has no field`);
    const got = (index: string): string => toPattern[slot.type](`${place.holder}.${place.name}${index}`);
    compare.push(
      ...forElements(slot.length, starts.length, isArray(slot), (index, at, number) =>
        expected.kind === 'sums'
          ? `sum = mixed(sum, ${got(index)}, ${patternOf(slot.type, 0).bytes}U);`
          : `compare(&tally, tick, "${place.name}", ${number}, ${got(index)}, next_${reader(slot.type)}(&columns[${at}]));`,
      ),
    );
    if (expected.kind === 'numbers')
      for (const column of expected.columns) if (column.slot === slot.id) addColumn(column);
  }

  const body = reference.ticks === 0 ? '' : [...feed, ...compare].join('\n');
  const values = `UINT32_C(${reference.values})`;
  const loop = `    for (uint32_t tick = 0U; tick < UINT32_C(${reference.ticks}); tick++) {
${indented(feed)}
        ${name}_tick(&m, &in, &out);
${expected.kind === 'sums' ? sumComparison(compare, values) : indented(compare)}
    }
`;
  const text = `#include "${options.name}.h"

#include <stdio.h>
#include <string.h>

typedef struct {
    unsigned long passed;
    unsigned long failed;
} tally_t;

/* How far a column has been read: the next entry, and how often the one before it still comes. */
typedef struct {
    uint32_t next;
    uint16_t left;
} column_t;

${poolText('word', 'uint32_t', 'UINT32_C', pools.word)}${poolText('pair', 'uint64_t', 'UINT64_C', pools.pair)}${helpers(body)}
${reference.ticks === 0 ? '' : expected.kind === 'sums' ? sumsText(expected.sums) : compareText}
int main(void)
{
    static column_t columns[${Math.max(1, starts.length)}] = {
${rows(starts.length === 0 ? ['{0U, 0U}'] : starts.map((start) => `{${start}U, 0U}`), 8)}
    };
    static ${name}_t m;
    static ${name}_in_t in;
    static ${name}_out_t out;
    tally_t tally = {0UL, 0UL};
    const int sound = ${name}_arithmetic_ok();
    if (sound == 0) {
        (void)fprintf(stderr, "this machine does not compute as the simulation does: see ${name}_arithmetic_ok\\n");
    }
    (void)columns;
    (void)memset(&in, 0, sizeof in);
    (void)memset(&out, 0, sizeof out);
    ${name}_start(&m);
${reference.ticks === 0 ? '' : loop}    (void)printf("%lu passed, %lu failed\\n", tally.passed, tally.failed);
    return ((tally.failed == 0UL) && (tally.passed > 0UL) && (sound != 0)) ? 0 : 1;
}`;
  const about = `Replays ${reference.ticks} ticks of raw inputs and compares the bits of ${reference.values} values at each of them${
    expected.kind === 'sums' ? ', by one FNV-1a checksum a tick' : ''
  }. The expected bits come from the simulation; nothing is worked out anew here.`;
  return cFile('selfcheck.c', [...comment(about).map((line) => ({ text: line })), ...plain(text)]);
}

function typeOf(program: Program, slot: number): Type {
  const type = program.slots[slot]?.type;
  if (type === undefined) throw new Error(`${program.name}: no slot ${slot}`);
  return type;
}

const reader = (type: Type): 'word' | 'pair' => (type === 'f64' ? 'pair' : 'word');

const fromPattern: Readonly<Record<Type, (pattern: string) => string>> = {
  bool: (pattern) => `(uint8_t)${pattern}`,
  i32: (pattern) => `integer_of(${pattern})`,
  f32: (pattern) => `single_of(${pattern})`,
  f64: (pattern) => `double_of(${pattern})`,
};

const toPattern: Readonly<Record<Type, (value: string) => string>> = {
  bool: (value) => value,
  i32: (value) => `(uint32_t)${value}`,
  f32: (value) => `of_single(${value})`,
  f64: (value) => `of_double(${value})`,
};

/** A statement for a scalar, or a loop for an array; columns stand one after the other from `first`. */
function forElements(
  length: number,
  first: number,
  array: boolean,
  statement: (index: string, column: string, number: string) => string,
): string[] {
  if (!array) return [statement('', String(first), '0U')];
  return [`for (uint32_t i = 0U; i < ${length}U; i++) {`, `    ${statement('[i]', `${first}U + i`, 'i')}`, '}'];
}

function append(pool: Pool, type: Type, numbers: Float64Array): void {
  let last = '';
  let run = 0;
  const close = (): void => {
    if (run === 0) return;
    pool.patterns.push(last);
    pool.runs.push(run);
  };
  for (const number of numbers) {
    const { words } = patternOf(type, number);
    const pattern = [...words]
      .reverse()
      .map((word, i) => word.toString(16).padStart(i === 0 ? 1 : 8, '0'))
      .join('');
    if (pattern === last && run < 65535) run++;
    else {
      close();
      last = pattern;
      run = 1;
    }
  }
  close();
}

function poolText(name: 'word' | 'pair', type: string, macro: string, pool: Pool): string {
  if (pool.patterns.length === 0) return '';
  const patterns = pool.patterns.map((pattern) => (macro === 'UINT32_C' ? `0x${pattern}U` : `${macro}(0x${pattern})`));
  return `static const ${type} ${name}s[${patterns.length}] = {
${rows(patterns, macro === 'UINT32_C' ? 8 : 4)}
};

/* How often each of them comes in a row. */
static const uint16_t ${name}_runs[${patterns.length}] = {
${rows(
  pool.runs.map((run) => `${run}U`),
  24,
)}
};

static ${type} next_${name}(column_t *column)
{
    if (column->left == 0U) {
        column->left = ${name}_runs[column->next];
        column->next++;
    }
    column->left--;
    return ${name}s[column->next - 1U];
}

`;
}

function rows(items: readonly string[], width: number): string {
  const lines: string[] = [];
  for (let i = 0; i < items.length; i += width) lines.push(`    ${items.slice(i, i + width).join(', ')},`);
  return lines.join('\n');
}

const indented = (lines: readonly string[]): string => lines.map((line) => `        ${line}`).join('\n');

/** The conversions a body uses. */
function helpers(body: string): string {
  const all: readonly (readonly [string, string])[] = [
    [
      'integer_of',
      `static int32_t integer_of(uint32_t pattern)
{
    int32_t x = 0;
    (void)memcpy(&x, &pattern, sizeof x);
    return x;
}`,
    ],
    [
      'single_of',
      `static float single_of(uint32_t pattern)
{
    float x = 0.0f;
    (void)memcpy(&x, &pattern, sizeof x);
    return x;
}`,
    ],
    [
      'double_of',
      `static double double_of(uint64_t pattern)
{
    double x = 0.0;
    (void)memcpy(&x, &pattern, sizeof x);
    return x;
}`,
    ],
    [
      'of_single',
      `/* The pattern; one for every not-a-number. */
static uint32_t of_single(float x)
{
    uint32_t pattern = UINT32_C(0x7fc00000);
    if (x == x) {
        (void)memcpy(&pattern, &x, sizeof pattern);
    }
    return pattern;
}`,
    ],
    [
      'of_double',
      `/* The pattern; one for every not-a-number. */
static uint64_t of_double(double x)
{
    uint64_t pattern = UINT64_C(0x7ff8000000000000);
    if (x == x) {
        (void)memcpy(&pattern, &x, sizeof pattern);
    }
    return pattern;
}`,
    ],
  ];
  return all
    .filter(([name]) => new RegExp(`\\b${name}\\(`).test(body))
    .map(([, text]) => `${text}\n\n`)
    .join('');
}

const compareText = `static void compare(tally_t *tally, uint32_t tick, const char *name, uint32_t index, uint64_t got, uint64_t want)
{
    if (got == want) {
        tally->passed++;
    } else {
        tally->failed++;
        if (tally->failed <= 10UL) {
            (void)fprintf(stderr, "tick %lu: %s[%lu] is %08lx%08lx, expected %08lx%08lx\\n", (unsigned long)tick, name,
                          (unsigned long)index, (unsigned long)(got >> 32U), (unsigned long)(got & 0xffffffffU),
                          (unsigned long)(want >> 32U), (unsigned long)(want & 0xffffffffU));
        }
    }
}
`;

function sumComparison(mixes: readonly string[], values: string): string {
  return `        uint32_t sum = UINT32_C(0x811c9dc5);
${indented(mixes)}
        if (sum == sums[tick]) {
            tally.passed += ${values};
        } else {
            tally.failed += ${values};
            if (tally.failed == ${values}) {
                (void)fprintf(stderr, "tick %lu is the first to differ\\n", (unsigned long)tick);
            }
        }`;
}

function sumsText(sums: Uint32Array): string {
  return `static const uint32_t sums[${sums.length}] = {
${rows(
  [...sums].map((sum) => `0x${sum.toString(16)}U`),
  8,
)}
};

static uint32_t mixed(uint32_t sum, uint64_t pattern, uint32_t bytes)
{
    uint32_t result = sum;
    for (uint32_t i = 0U; i < bytes; i++) {
        result = (result ^ (uint32_t)((pattern >> (8U * i)) & 0xffU)) * UINT32_C(16777619);
    }
    return result;
}
`;
}
