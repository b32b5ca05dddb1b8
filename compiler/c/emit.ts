/** A program as C99: one source and one header, readable and with the bits of the simulation. */

import { functionEffects, reachable } from '../ir/effects.ts';
import { operation } from '../ir/operations.ts';
import type { Func, Instruction, Program } from '../ir/program.ts';
import { arithmeticCheck, guards } from './arithmetic.ts';
import { type Field, type Fields, fieldsOf, type Holder, isArray } from './fields.ts';
import { type Callee, type FunctionContext, writeBody } from './function.ts';
import { type About, type Exported, writeHeader, writeStruct } from './header.ts';
import { type CFile, type CLine, cFile, comment, plain } from './lines.ts';
import { fieldLiteral, fieldType, localType } from './literals.ts';
import { fileName, Names, prefixOf } from './names.ts';
import { prepare } from './prepare.ts';
import { supportFor } from './support.ts';

export interface COptions extends About {
  /** Base name of the files and of everything exported: `row_scout`. */
  readonly name: string;
  /** Functions that the caller calls, by their names in the program; `NAME_` and the name in C. */
  readonly exported?: readonly string[];
  /** How scalars are aligned at most where that is known; the structs' sizes are then held to it. */
  readonly alignment?: number;
  /** Divide by own code: for boards (AVR) whose compiler does not round subnormal quotients to nearest. */
  readonly ownDivision?: boolean;
}

/** `NAME.c` and `NAME.h`. The program must be a good one (`verify`); the same program gives the same text. */
export function emitC(program: Program, options: COptions): CFile[] {
  const name = prefixOf(options.name);
  const exported = options.exported ?? ['tick'];
  const prepared = prepare(program, exported);
  const fields = fieldsOf(prepared, options.alignment);
  const callees = calleesOf(prepared, name, exported, fields);
  const functions = [...exported, ...entriesOf(prepared).keys()].map((func) =>
    exportedFunction(prepared, func, callees),
  );
  return [
    cFile(`${fileName(options.name)}.c`, writeSource(name, options, prepared, fields, callees, exported)),
    cFile(`${fileName(options.name)}.h`, writeHeader(name, prepared, fields, functions, options)),
  ];
}

/** Functions that a scheduler calls instead of `tick`, and the structs each of them takes. */
function entriesOf({ layers }: Program): ReadonlyMap<string, readonly Holder[]> {
  if (layers === undefined) return new Map();
  return new Map<string, readonly Holder[]>([
    [layers.release, ['m', 'in']],
    ...layers.tasks.map(({ func }): [string, readonly Holder[]] => [func, ['m']]),
    [layers.outputs, ['m', 'out']],
  ]);
}

/** The structs of the C that `emitC` gives: names, places and bytes, for whoever writes code around it. */
export function cFields(program: Program, exported: readonly string[] = ['tick'], alignment?: number): Fields {
  return fieldsOf(prepare(program, exported), alignment);
}

function exportedFunction(program: Program, func: string, callees: ReadonlyMap<string, Callee>): Exported {
  const callee = callees.get(func);
  if (callee === undefined) throw new Error(`${program.name}: no function ${func}`);
  const types = callee.func.values.slice(0, callee.func.parameters);
  return {
    name: callee.name,
    func,
    holders: callee.holders,
    parameters: types.map((type, i) => `${localType[type]} x${i + 1}`),
    result: resultType(callee.func),
  };
}

const resultType = (func: Func): string =>
  func.result === undefined ? 'void' : localType[func.values[func.result] ?? 'f64'];

/** Each function's C name and the structs it needs; exported ones take all three. */
function calleesOf(
  program: Program,
  name: string,
  exported: readonly string[],
  fields: Fields,
): ReadonlyMap<string, Callee> {
  const ours = ['start', 'rest', 'arithmetic_ok', 'selfcheck'].map((word) => `${name}_${word}`);
  const names = new Names([...ours, ...typeNames(name)]);
  const effects = functionEffects(program);
  const callees = new Map<string, Callee>();
  const entries = entriesOf(program);
  for (const func of program.functions) {
    const { loads = [], stores = [] } = effects.get(func.name) ?? {};
    const touched = new Set<Holder | undefined>([...loads, ...stores].map((slot) => fields.places.get(slot)?.holder));
    for (const called of reachable({ ...program, functions: [func] }, [func.name]))
      for (const holder of callees.get(called)?.holders ?? []) touched.add(holder);
    const all: readonly Holder[] = ['m', 'in', 'out', 'w'];
    const holders = exported.includes(func.name)
      ? all.filter((holder) => holder !== 'w')
      : (entries.get(func.name) ?? all.filter((holder) => touched.has(holder)));
    callees.set(func.name, { name: names.take(`${name}_${func.name}`), holders, func });
  }
  return callees;
}

const typeNames = (name: string): string[] => [`${name}_t`, `${name}_in_t`, `${name}_out_t`, `${name}_work_t`];

function writeSource(
  name: string,
  options: COptions,
  program: Program,
  fields: Fields,
  callees: ReadonlyMap<string, Callee>,
  exported: readonly string[],
): CLine[] {
  const effects = functionEffects(program);
  const entries = entriesOf(program);
  const layered = new Set(program.layers?.tasks.map((task) => task.func));
  const context: FunctionContext = {
    program,
    fields,
    known: effects,
    callees,
    reserved: [...[...callees.values()].map((callee) => callee.name), ...typeNames(name)],
    forms: new Map(options.ownDivision === true ? [['div_f32', ownDivision]] : []),
  };
  const bodies = program.functions.flatMap((func): CLine[] => {
    const callee = callees.get(func.name);
    if (callee === undefined) return [];
    const { parameters, lines } = writeBody(func, context);
    const isExported = exported.includes(func.name) || entries.has(func.name);
    const stores = [...(effects.get(func.name)?.stores ?? [])].map((slot) => fields.places.get(slot)?.holder);
    const constant = (holder: Holder): string => (isExported || stores.includes(holder) ? '' : 'const ');
    const structs: Record<Holder, string> = {
      m: `${constant('m')}${name}_t *m`,
      in: `const ${name}_in_t *in`,
      out: `${name}_out_t *out`,
      w: `${constant('w')}${name}_work_t *w`,
    };
    const takes = [...callee.holders.map((holder) => structs[holder]), ...parameters].join(', ') || 'void';
    const text = lines.map((line) => line.text).join('\n');
    const isUsed = (holder: Holder): boolean => new RegExp(`\\b${holder}(->|[,)])`).test(text);
    const idle = callee.holders.filter((holder) => !isUsed(holder));
    const own = isUsed('w') && !callee.holders.includes('w');
    return [
      { text: `${isExported ? '' : 'static '}${resultType(func)} ${callee.name}(${takes})` },
      { text: '{' },
      ...idle.map((holder) => ({ text: `    (void)${holder};` })),
      ...(own ? plain(`    ${name}_work_t work;\n    ${name}_work_t *const w = &work;`) : []),
      ...(layered.has(func.name) ? fenced(lines) : lines),
      { text: '}' },
      { text: '' },
    ];
  });
  const start = writeStart(name, fields);
  const used = typesAndOperations(program);
  const reals = (['f32', 'f64'] as const).filter((real) => used.has(real));
  const divide = context.forms.get('div_f32') ?? operation('div_f32').c;
  const check = arithmeticCheck(name, { reals, divide: used.has('div_f32') ? divide : undefined });
  const everything = `${[...bodies, ...start].map((line) => line.text).join('\n')}\n${check}`;
  const support = supportFor(everything);
  const uses = (pattern: RegExp): boolean => pattern.test(everything) || support.some((text) => pattern.test(text));
  return [
    ...comment(`${options.purpose ?? name}\nMade by Loopwright from a sheet: change the sheet, not this file.`).map(
      (text) => ({ text }),
    ),
    ...plain(`#include "${fileName(options.name)}.h"

#include <float.h>
#include <limits.h>
#include <math.h>
#include <stdbool.h>
${uses(/\bmemcpy\(/) ? '#include <string.h>\n' : ''}
${guards(reals)}
${options.alignment === undefined ? '' : sizeAsserts(name, fields)}`),
    ...(layered.size === 0 ? [] : plain(fence)),
    ...support.flatMap((text) => plain(`${text}\n`)),
    ...(fields.w.length === 0
      ? []
      : [...writeStruct(name, 'w', fields.w, 'Working storage of one call.'), { text: '' }]),
    ...bodies,
    ...start,
    ...writeRest(name, fields),
    ...plain(`\n${check}`),
  ];
}

/** A task says last that it is done: nothing that it stored may be put after that. */
function fenced(lines: readonly CLine[]): CLine[] {
  return [...lines.slice(0, -1), { text: '    LW_FENCE();' }, ...lines.slice(-1)];
}

const fence = `/* What is stored before it is stored before what comes after it, seen from an interrupt. Between cores, use the system's own. */
#if defined(__GNUC__) || defined(__clang__)
#define LW_FENCE() __asm__ volatile ("" ::: "memory")
#else
#define LW_FENCE() ((void)0)
#endif
`;

/** Refuses a build that packs the structs or aligns them otherwise than said. */
function sizeAsserts(name: string, { bytes }: Fields): string {
  const holders: readonly (readonly [Holder, string])[] = [
    ['m', `${name}_t`],
    ['in', `${name}_in_t`],
    ['out', `${name}_out_t`],
  ];
  return `\n/* The structs are laid out as their header says: no packing, enumerations or alignment of another kind. */\n${holders
    .map(
      ([holder, type]) =>
        `typedef char lw_${type}_is_${bytes[holder]}_bytes[(sizeof(${type}) == ${bytes[holder]}U) ? 1 : -1];\n`,
    )
    .join('')}`;
}

function writeStart(name: string, fields: Fields): CLine[] {
  const lines: CLine[] = [{ text: `void ${name}_start(${name}_t *m)` }, { text: '{' }];
  if (fields.m.length === 0) lines.push({ text: '    m->nothing = 0U;' });
  for (const field of fields.m)
    for (const text of startOf(field, 'm')) lines.push({ text: `    ${text}`, block: field.slot.block || undefined });
  lines.push({ text: '}' });
  return lines;
}

function writeRest(name: string, fields: Fields): CLine[] {
  const lines: CLine[] = [{ text: '' }, { text: `void ${name}_rest(${name}_out_t *out)` }, { text: '{' }];
  if (fields.out.length === 0) lines.push({ text: '    out->nothing = 0U;' });
  for (const field of fields.out)
    for (const text of startOf(field, 'out')) lines.push({ text: `    ${text}`, block: field.slot.block || undefined });
  lines.push({ text: '}' });
  return lines;
}

function startOf({ slot, name }: Field, holder: Holder): string[] {
  const numbers = slot.start.map((value) => fieldLiteral(slot.type, value));
  const [first = '0'] = numbers;
  if (!isArray(slot)) return [`${holder}->${name} = ${first};`];
  const loop = `for (int32_t i = 0; i < ${slot.length}; i++) {`;
  if (numbers.every((number) => number === first)) return [loop, `    ${holder}->${name}[i] = ${first};`, '}'];
  if (slot.length <= 8) return numbers.map((number, i) => `${holder}->${name}[${i}] = ${number};`);
  const rows: string[] = [];
  for (let i = 0; i < numbers.length; i += 8) rows.push(`        ${numbers.slice(i, i + 8).join(', ')},`);
  return [
    '{',
    `    static const ${fieldType[slot.type]} start[${slot.length}] = {`,
    ...rows,
    '    };',
    `    ${loop}`,
    `        ${holder}->${name}[i] = start[i];`,
    '    }',
    '}',
  ];
}

const ownDivision = (...[a, b]: string[]): string => `lw_div_f32(${a}, ${b})`;

/** The types a program stores or computes with, and the operations it uses. */
function typesAndOperations(program: Program): ReadonlySet<string> {
  const used = new Set<string>(program.slots.map((slot) => slot.type));
  const visit = (list: readonly Instruction[]): void => {
    for (const instruction of list) {
      if (instruction.do === 'compute') {
        const { args, result } = operation(instruction.op);
        for (const word of [instruction.op, ...args, result]) used.add(word);
      } else if (instruction.do === 'if') {
        visit(instruction.then);
        visit(instruction.else);
      } else if (instruction.do === 'repeat') visit(instruction.body);
    }
  };
  for (const func of program.functions) visit(func.body);
  return used;
}
