/** A program as C99: one source and one header, readable and with the bits of the simulation. */

import { functionEffects, reachable } from '../ir/effects.ts';
import { operation } from '../ir/operations.ts';
import type { Func, Instruction, Program } from '../ir/program.ts';
import { arithmeticCheck, guards } from './arithmetic.ts';
import { type Field, type Fields, fieldsOf, type Holder, isArray } from './fields.ts';
import { type Callee, type FunctionContext, writeBody } from './function.ts';
import { type About, type Exported, writeHeader } from './header.ts';
import { type CFile, type CLine, cFile, comment, plain } from './lines.ts';
import { fieldLiteral, fieldType, localType } from './literals.ts';
import { cName, fileName, Names } from './names.ts';
import { prepare } from './prepare.ts';
import { supportFor } from './support.ts';

export interface COptions extends About {
  /** Base name of the files and of everything exported: `row_scout`. */
  readonly name: string;
  /** Functions that the caller calls, by their names in the program; `NAME_` and the name in C. */
  readonly exported?: readonly string[];
  /** Divide by own code: for boards (AVR) whose compiler does not round subnormal quotients to nearest. */
  readonly ownDivision?: boolean;
}

/** `NAME.c` and `NAME.h`. The program must be a good one (`verify`); the same program gives the same text. */
export function emitC(program: Program, options: COptions): CFile[] {
  const name = cName(options.name);
  const exported = options.exported ?? ['tick'];
  const prepared = prepare(program, exported);
  const fields = fieldsOf(prepared);
  const callees = calleesOf(prepared, name, exported, fields);
  const functions = exported.map((func) => exportedFunction(prepared, func, callees));
  return [
    cFile(`${fileName(options.name)}.c`, writeSource(name, options, prepared, fields, callees, exported)),
    cFile(`${fileName(options.name)}.h`, writeHeader(name, prepared, fields, functions, options)),
  ];
}

/** The structs of the C that `emitC` gives: names, places and bytes, for whoever writes code around it. */
export function cFields(program: Program, exported: readonly string[] = ['tick']): Fields {
  return fieldsOf(prepare(program, exported));
}

function exportedFunction(program: Program, func: string, callees: ReadonlyMap<string, Callee>): Exported {
  const callee = callees.get(func);
  if (callee === undefined) throw new Error(`${program.name}: no function ${func}`);
  const types = callee.func.values.slice(0, callee.func.parameters);
  return {
    name: callee.name,
    func,
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
  const names = new Names([`${name}_start`, `${name}_arithmetic_ok`, ...typeNames(name)]);
  const effects = functionEffects(program);
  const callees = new Map<string, Callee>();
  for (const func of program.functions) {
    const { loads = [], stores = [] } = effects.get(func.name) ?? {};
    const touched = new Set<Holder | undefined>([...loads, ...stores].map((slot) => fields.places.get(slot)?.holder));
    for (const called of reachable({ ...program, functions: [func] }, [func.name]))
      for (const holder of callees.get(called)?.holders ?? []) touched.add(holder);
    const all: readonly Holder[] = ['m', 'in', 'out'];
    const holders = exported.includes(func.name) ? all : all.filter((holder) => touched.has(holder));
    callees.set(func.name, { name: names.take(`${name}_${func.name}`), holders, func });
  }
  return callees;
}

const typeNames = (name: string): string[] => [`${name}_t`, `${name}_in_t`, `${name}_out_t`];

function writeSource(
  name: string,
  options: COptions,
  program: Program,
  fields: Fields,
  callees: ReadonlyMap<string, Callee>,
  exported: readonly string[],
): CLine[] {
  const effects = functionEffects(program);
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
    const isExported = exported.includes(func.name);
    const changes = [...(effects.get(func.name)?.stores ?? [])].some((slot) => fields.places.get(slot)?.holder === 'm');
    const structs: Record<Holder, string> = {
      m: `${isExported || changes ? '' : 'const '}${name}_t *m`,
      in: `const ${name}_in_t *in`,
      out: `${name}_out_t *out`,
    };
    const takes = [...callee.holders.map((holder) => structs[holder]), ...parameters].join(', ') || 'void';
    const text = lines.map((line) => line.text).join('\n');
    const idle = callee.holders.filter((holder) => !new RegExp(`\\b${holder}(->|[,)])`).test(text));
    return [
      { text: `${isExported ? '' : 'static '}${resultType(func)} ${callee.name}(${takes})` },
      { text: '{' },
      ...idle.map((holder) => ({ text: `    (void)${holder};` })),
      ...lines,
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
#include <math.h>
#include <stdbool.h>
${uses(/\bmemcpy\(/) ? '#include <string.h>\n' : ''}
${guards(reals)}
`),
    ...support.flatMap((text) => plain(`${text}\n`)),
    ...bodies,
    ...start,
    ...plain(`\n${check}`),
  ];
}

function writeStart(name: string, fields: Fields): CLine[] {
  const lines: CLine[] = [{ text: `void ${name}_start(${name}_t *m)` }, { text: '{' }];
  if (fields.m.length === 0) lines.push({ text: '    m->nothing = 0U;' });
  for (const field of fields.m)
    for (const text of startOf(field)) lines.push({ text: `    ${text}`, block: field.slot.block || undefined });
  lines.push({ text: '}' });
  return lines;
}

function startOf({ slot, name }: Field): string[] {
  const numbers = slot.start.map((value) => fieldLiteral(slot.type, value));
  const [first = '0'] = numbers;
  if (!isArray(slot)) return [`m->${name} = ${first};`];
  const loop = `for (int32_t i = 0; i < ${slot.length}; i++) {`;
  if (numbers.every((number) => number === first)) return [loop, `    m->${name}[i] = ${first};`, '}'];
  if (slot.length <= 8) return numbers.map((number, i) => `m->${name}[${i}] = ${number};`);
  const rows: string[] = [];
  for (let i = 0; i < numbers.length; i += 8) rows.push(`        ${numbers.slice(i, i + 8).join(', ')},`);
  return [
    '{',
    `    static const ${fieldType[slot.type]} start[${slot.length}] = {`,
    ...rows,
    '    };',
    `    ${loop}`,
    `        m->${name}[i] = start[i];`,
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
