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
  /** What tells this sheet from others. */
  readonly sheetHash?: string;
  /** What it is made for. */
  readonly target?: string;
  /** The run that the self-check beside it replays. */
  readonly selfcheck?: string;
}

export interface Exported {
  /** C name of the function. */
  readonly name: string;
  /** The structs it takes. */
  readonly holders: readonly Holder[];
  /** Parameters after the structs, as declared; usually none. */
  readonly parameters: readonly string[];
  readonly result: string;
  /** Name in the program. */
  readonly func: string;
}

export const cautions: readonly string[] = [
  'This is control software, not a certified safety function: nothing here may be relied on to protect people.',
  'Local codes and a qualified person decide what guards, stops and interlocks the machine needs besides.',
  'Before power is given to an actuator the first time: wheels off the ground or the machine held, limits low, a stop within reach that works without this program.',
];

const groups: readonly (readonly [Slot['kind'], string])[] = [
  ['setting', 'Settings: may be changed between two calls; several that belong together, all between the same two.'],
  ['memory', 'Memories.'],
  ['line', 'Delay lines.'],
  ['wire', 'Values that are held for a later tick, another rate or a reader.'],
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
  const structs: Readonly<Record<Holder, string>> = {
    m: `${name}_t *m`,
    in: `const ${name}_in_t *in`,
    out: `${name}_out_t *out`,
    w: `${name}_work_t *w`,
  };
  const prototype = ({ name: func, holders, parameters, result }: Exported): string =>
    `${result} ${func}(${[...holders.map((holder) => structs[holder]), ...parameters].join(', ')});`;
  const calls = callsOf(program, name, period);
  const intro = [
    about.purpose ?? `${name}: a controller.`,
    ...(about.sheetHash === undefined
      ? []
      : [`Sheet: SHA-256 ${about.sheetHash} of all of it that means something (not where it is drawn).`]),
    ...(about.target === undefined ? [] : [`Made for: ${about.target}.`]),
    `Memory: ${fields.bytes.m} bytes of state, ${fields.bytes.in} of inputs, ${fields.bytes.out} of outputs; no heap, no recursion, no globals that change. Several instances may run at once, each with its own state.`,
    ...(about.target === undefined ? [] : ['Code size and stack: "make size" prints what your compiler makes of it.']),
    `Work: ${functions.map((one) => `${one.name} at most ${works.get(one.func) ?? 0} operations`).join(', ')}.`,
    'The same bits as in the simulation, if compiled as C99 with -ffp-contract=off and without -ffast-math or its parts, on arithmetic that follows IEEE 754, rounds to nearest even and keeps subnormals, with every operation rounded to its own type (FLT_EVAL_METHOD 0).',
    'A name of the sheet has _ for its dots, and one more _ at its end where C or the machine has taken the name.',
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
    ...writeStruct(name, 'in', fields.in, 'What the sensors read, raw; filled in before every call.'),
    { text: '' },
    ...writeStruct(name, 'out', fields.out, 'What the actuators are told, raw; every field is written by every call.'),
    { text: '' },
    ...writeStruct(name, 'm', fields.m, 'Everything the program remembers.'),
    ...plain(`
/* Memory and settings to their initial values. Call it before the first tick. */
void ${name}_start(${name}_t *m);

/* What the actuators are told while the program does not run: before its first tick, and when it may not arm. */
void ${name}_rest(${name}_out_t *out);
`),
    ...functions.flatMap((func) => [
      ...comment(calls.get(func.func) ?? `Call it at its ticks: ${inComment(func.func)}.`).map((text) => ({ text })),
      { text: prototype(func) },
    ]),
    ...plain(`
/* 1 if this machine computes as the simulation does: no contraction, rounding to nearest even, subnormals kept. Call it
 * at power-up and do not arm anything if it gives 0. */
int ${name}_arithmetic_ok(void);
${
  about.selfcheck === undefined
    ? ''
    : `
/* The start-up test, in selfcheck.c: replays the run "${inComment(about.selfcheck)}" and compares every bit. 0 if all is well; do not arm
 * anything otherwise. It works in the structs it is given; start anew after it. */
int ${name}_selfcheck(${name}_t *m, ${name}_in_t *in, ${name}_out_t *out);
`
}
#ifdef __cplusplus
}
#endif

#endif`),
  ];
}

/** When each function is called, in words. */
function callsOf({ layers }: Program, name: string, period: string): ReadonlyMap<string, string> {
  const calls = new Map([['tick', `Call it ${period}.`]]);
  if (layers === undefined) return calls;
  calls.set(
    'tick',
    `Everything that is due, in one go, ${period}: for a machine without tasks. Else use what follows instead.`,
  );
  calls.set(
    layers.release,
    `Call it ${period}, from the timer: hands over what the tasks made and gives a bit for each task to be run now, bit 0 for the first below. A task still running is left out, and counted in its overruns.`,
  );
  for (const [i, { func, every, phase }] of layers.tasks.entries()) {
    const due = every === 1 ? 'every tick' : `every ${every} ticks${phase === 0 ? '' : ` from tick ${phase} on`}`;
    const when =
      every === 1
        ? `run it right after ${name}_release, in the same place`
        : 'run it where what comes before may interrupt it; it must end before it is due again';
    calls.set(func, `Bit ${i}: due ${due}. ${when.charAt(0).toUpperCase()}${when.slice(1)}.`);
  }
  calls.set(layers.outputs, 'What the actuators are told, once the task of every tick has run.');
  return calls;
}

const suffix: Readonly<Record<Holder, string>> = { m: '_t', in: '_in_t', out: '_out_t', w: '_work_t' };

/** A struct with its fields' units and purposes. */
export function writeStruct(name: string, holder: Holder, fields: readonly Field[], purpose: string): CLine[] {
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
