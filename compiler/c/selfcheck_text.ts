/** The small C functions of a self-check: they read what is kept, compare patterns and say what came out. */

import type { Type } from '../ir/program.ts';
import type { Machinery } from './selfcheck.ts';
import type { Stream } from './stored.ts';

/** A value of a type out of the next words of its streams. */
export const fromStream: Readonly<Record<Type, (stream: string) => string>> = {
  bool: (stream) => `(uint8_t)next_word(&streams[${stream}])`,
  i32: (stream) => `integer_of(next_word(&streams[${stream}]))`,
  f32: (stream) => `single_of(next_word(&streams[${stream}]))`,
  f64: (stream) => `double_of(next_pair(&streams[${stream}]))`,
};

/** A field as a pattern of 32 bits, 64 for an f64. */
export const toPattern: Readonly<Record<Type, (value: string) => string>> = {
  bool: (value) => value,
  i32: (value) => `(uint32_t)${value}`,
  f32: (value) => `of_single(${value})`,
  f64: (value) => `of_double(${value})`,
};

/** Where each stream begins. */
export function streamsText(streams: readonly Stream[]): string {
  const rows = streams.map(({ at, words }) => `        {${at}U, ${words ?? 0}U, 0U, 0U},`);
  return `    stream_t streams[${streams.length}] = {\n${rows.join('\n')}\n    };\n`;
}

/** Judges a tick by its checksum; `at` is where the sums begin. */
export function sumComparison(mixes: readonly string[], values: number, at: number): string {
  return `        uint32_t sum = 0U;
${mixes.map((line) => `        ${line}`).join('\n')}
        if (sum == stored_word(${at}U + (4U * tick))) {
            tally.passed += UINT32_C(${values});
        } else {
            if (tally.failed == 0UL) {
                tell("tick ");
                tell(decimal(digits, tick));
                tell(" is the first to differ\\n");
            }
            tally.failed += UINT32_C(${values});
        }`;
}

/** How the check speaks. */
export function speech({ say, tell }: Machinery): string {
  return `static void say(const char *text)
{
    ${say('text')}
}

static void tell(const char *text)
{
    ${tell('text')}
}
`;
}

/** Text of each function by name; a function may use those listed before it. */
const functions: ReadonlyMap<string, string> = new Map([
  [
    'decimal',
    `/* The digits of a count, in room for 24 characters. */
static const char *decimal(char *digits, unsigned long count)
{
    unsigned long rest = count;
    uint32_t at = 23U;
    digits[at] = '\\0';
    do {
        at--;
        digits[at] = "0123456789"[rest % 10UL];
        rest /= 10UL;
    } while (rest > 0UL);
    return &digits[at];
}`,
  ],
  [
    'stored_word',
    `static uint32_t stored_word(uint32_t at)
{
    uint32_t word = 0U;
    for (uint32_t i = 0U; i < 4U; i++) {
        word |= (uint32_t)stored_byte(at + i) << (8U * i);
    }
    return word;
}`,
  ],
  [
    'stream_t',
    `/* How far a stream of words has been read. */
typedef struct {
    uint32_t at;    /* its next byte */
    uint32_t words; /* where the words stand that it counts through; 0 if it gives them itself */
    uint32_t value;
    uint32_t stays; /* for so many ticks more */
} stream_t;`,
  ],
  [
    'next_number',
    `/* A number of as many bytes as it needs: seven bits each, the lowest first; the top bit says that more follow. */
static uint32_t next_number(stream_t *stream)
{
    uint32_t number = 0U;
    uint32_t shift = 0U;
    uint32_t byte = 0U;
    do {
        byte = stored_byte(stream->at);
        stream->at++;
        number |= (byte & 0x7fU) << shift;
        shift += 7U;
    } while (byte > 0x7fU);
    return number;
}`,
  ],
  [
    'next_word',
    `/* The word before and a step: twice the way up, or twice the way down less one. After no step, how long it stays. */
static uint32_t next_word(stream_t *stream)
{
    if (stream->stays > 0U) {
        stream->stays--;
    } else {
        const uint32_t step = next_number(stream);
        stream->value += (step >> 1U) ^ (0U - (step & 1U));
        if (step == 0U) {
            stream->stays = next_number(stream);
        }
    }
    return (stream->words == 0U) ? stream->value : stored_word(stream->words + (4U * stream->value));
}`,
  ],
  [
    'next_pair',
    `static uint64_t next_pair(stream_t *streams)
{
    const uint64_t low = next_word(&streams[0]);
    const uint64_t high = next_word(&streams[1]);
    return low | (high << 32U);
}`,
  ],
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
  [
    'mixed',
    `/* A checksum with one word more: turned, joined, and spread by an odd number. No one word can differ unseen. */
static uint32_t mixed(uint32_t sum, uint32_t word)
{
    return (((sum << 8U) | (sum >> 24U)) ^ word) * UINT32_C(0x9e3779b1);
}`,
  ],
  [
    'mixed_pair',
    `static uint32_t mixed_pair(uint32_t sum, uint64_t pair)
{
    return mixed(mixed(sum, (uint32_t)(pair & 0xffffffffU)), (uint32_t)(pair >> 32U));
}`,
  ],
  [
    'hexadecimal',
    `/* The sixteen digits of a pattern, in room for 24 characters. */
static const char *hexadecimal(char *digits, uint64_t pattern)
{
    for (uint32_t i = 0U; i < 16U; i++) {
        digits[i] = "0123456789abcdef"[(pattern >> (60U - (4U * i))) & 0xfU];
    }
    digits[16] = '\\0';
    return digits;
}`,
  ],
  [
    'compare',
    `/* Counts a value as passed or failed; tells of the first ten that fail. */
static void compare(tally_t *tally, uint32_t tick, const char *name, uint32_t index, uint64_t got, uint64_t want)
{
    char digits[24];
    if (got == want) {
        tally->passed++;
    } else {
        tally->failed++;
        if (tally->failed <= 10UL) {
            tell("tick ");
            tell(decimal(digits, tick));
            tell(": ");
            tell(name);
            tell("[");
            tell(decimal(digits, index));
            tell("] is ");
            tell(hexadecimal(digits, got));
            tell(", expected ");
            tell(hexadecimal(digits, want));
            tell("\\n");
        }
    }
}`,
  ],
]);

const names = new RegExp(`\\b(${[...functions.keys()].join('|')})\\b`, 'g');

/** The functions that a text uses, with those they use in turn. */
export function supportFor(text: string): string {
  const wanted = new Set(text.match(names));
  const chosen: string[] = [];
  for (const [name, body] of [...functions].reverse()) {
    if (!wanted.has(name)) continue;
    for (const used of body.match(names) ?? []) wanted.add(used);
    chosen.unshift(body);
  }
  return chosen.map((body) => `${body}\n\n`).join('');
}
