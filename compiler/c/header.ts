/** The header of an export: what it is for, under which conditions, and the three structs with their units. */

import type { Program, Slot } from '../ir/program.ts';
import { type Field, type Fields, type Holder, isArray } from './fields.ts';
import { type CLine, comment, inComment, plain } from './lines.ts';
import { fieldType } from './literals.ts';
import { operationsAtMost } from './work.ts';

/** What the header says about the machine; all of it words for people. */
export interface About {
  /** Title of the sheet and what the program is for. */
  readonly purpose?: string;
  /** The base period, as in `5 ms`. */
  readonly tick?: string;
  /** More to be careful about, such as that of a target; one sentence each. */
  readonly cautions?: readonly string[];
}

export interface Exported {
  /** C name of the function. */
  readonly name: string;
  /** Parameters after the three structs, as declared; usually none. */
  readonly parameters: readonly string[];
  readonly result: string;
  /** Name in the program. */
  readonly func: string;
}

const cautions = [
  'This is control software, not a certified safety function: nothing here may be relied on to protect people.',
  'Local codes and a qualified person decide what guards, stops and interlocks the machine needs besides.',
  'Before power is given to an actuator the first time: wheels off the ground or the machine held, limits low, a stop within reach that works without this program.',
];

const groups: readonly (readonly [Slot['kind'], string])[] = [
  ['setting', 'Settings: may be changed between two calls; several that belong together, all between the same two.'],
  ['memory', 'Memories.'],
  ['line', 'Delay lines.'],
  ['wire', 'Values that are held for a later tick, another rate or a reader.'],
  ['scratch', 'Working storage; means nothing between calls.'],
];

export function writeHeader(
  name: string,
  program: Program,
  fields: Fields,
  functions: readonly Exported[],
  about: About,
): CLine[] {
  const guard = `${name.toUpperCase()}_H`;
  const works = operationsAtMost(program);
  const period = about.tick === undefined ? 'once every base tick' : `once every ${about.tick}`;
  const prototype = ({ name: func, parameters, result }: Exported): string =>
    `${result} ${func}(${[`${name}_t *m`, `const ${name}_in_t *in`, `${name}_out_t *out`, ...parameters].join(', ')});`;
  const intro = [
    about.purpose ?? `${name}: a controller.`,
    `Memory: ${fields.bytes.m} bytes of state, ${fields.bytes.in} of inputs, ${fields.bytes.out} of outputs (scalars aligned to their size); no heap, no recursion, no globals that change. Several instances may run at once, each with its own state.`,
    `Work: ${functions.map((one) => `${one.name} at most ${works.get(one.func) ?? 0} operations`).join(', ')}.`,
    'The same bits as in the simulation, if compiled as C99 with -ffp-contract=off and without -ffast-math or its parts, on arithmetic that follows IEEE 754, rounds to nearest even and keeps subnormals.',
    'A name of the sheet has _ for its dots, and one more _ at its end where C has taken the name.',
    ...[...cautions, ...(about.cautions ?? [])].map((caution) => `Caution: ${caution}`),
  ];
  return [
    ...comment(intro.join('\n \n')).map((text) => ({ text })),
    ...plain(`#ifndef ${guard}
#define ${guard}

#include <stdint.h>

#ifdef __cplusplus
extern "C" {
#endif
`),
    ...struct(name, 'in', fields.in, 'What the sensors read, raw; filled in before every call.'),
    { text: '' },
    ...struct(name, 'out', fields.out, 'What the actuators are told, raw; every field is written by every call.'),
    { text: '' },
    ...struct(name, 'm', fields.m, 'Everything the program remembers.'),
    ...plain(`
/* Memory and settings to their initial values. Call it before the first tick. */
void ${name}_start(${name}_t *m);
`),
    ...functions.flatMap((func) => [
      { text: `/* Call ${func.func === 'tick' ? period : `at its ticks: ${inComment(func.func)}`}. */` },
      { text: prototype(func) },
    ]),
    ...plain(`
/* 1 if this machine computes as the simulation does: no contraction, rounding to nearest even, subnormals kept. Call it
 * at power-up and do not arm anything if it gives 0. */
int ${name}_arithmetic_ok(void);

#ifdef __cplusplus
}
#endif

#endif`),
  ];
}

const suffix: Readonly<Record<Holder, string>> = { m: '_t', in: '_in_t', out: '_out_t' };

function struct(name: string, holder: Holder, fields: readonly Field[], purpose: string): CLine[] {
  const lines: CLine[] = [{ text: `/* ${purpose} */` }, { text: 'typedef struct {' }];
  if (fields.length === 0) lines.push({ text: '    uint8_t nothing; /* C wants a field; nothing reads it */' });
  let group: Slot['kind'] | undefined;
  for (const { slot, name: field } of fields) {
    if (holder === 'm' && slot.kind !== group) {
      group = slot.kind;
      lines.push({ text: `    /* ${groups.find(([kind]) => kind === slot.kind)?.[1] ?? ''} */` });
    }
    const size = isArray(slot) ? `[${slot.length}]` : '';
    const words = [slot.type === 'bool' ? '0 or 1' : '', inComment(slot.note ?? '')].filter((part) => part !== '');
    const said = words.length === 0 ? '' : ` /* ${words.join('; ')} */`;
    lines.push({ text: `    ${fieldType[slot.type]} ${field}${size};${said}`, block: slot.block || undefined });
  }
  lines.push({ text: `} ${name}${suffix[holder]};` });
  return lines;
}
