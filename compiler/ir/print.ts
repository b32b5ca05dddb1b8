/** A program as text to read: one instruction a line, the same text for the same program. */

import type { Func, Instruction, Program, Slot, Value } from './program.ts';

/** The whole program: slots, then functions. */
export function printProgram(program: Program): string {
  const lines = [`program ${program.name} ${program.real}`, ...program.slots.map(printSlot)];
  for (const func of program.functions) lines.push('', printFunction(func, program));
  return `${lines.join('\n')}\n`;
}

/** One number, telling −0 from 0. */
export function printNumber(value: number): string {
  return Object.is(value, -0) ? '-0' : String(value);
}

function printSlot(slot: Slot): string {
  const size = slot.length === 1 ? '' : `[${slot.length}]`;
  const first = slot.start[0] ?? 0;
  const same = slot.start.every((value) => Object.is(value, first));
  const start = same ? printNumber(first) : slot.start.map(printNumber).join(' ');
  const head = slot.head === undefined ? '' : ` head #${slot.head}`;
  return `#${slot.id} ${slot.kind} ${slot.name}: ${slot.type}${size} = ${start}${head}`;
}

/** One function; slots are said by name where the program is given. */
export function printFunction(func: Func, program?: Program): string {
  const value = (v: Value): string => `%${v}`;
  const typed = (v: Value): string => `%${v}: ${func.values[v]}`;
  const slot = (id: number): string => program?.slots[id]?.name ?? `#${id}`;
  const element = (id: number, index: Value | undefined): string =>
    index === undefined ? slot(id) : `${slot(id)}[${value(index)}]`;
  const list = (instructions: readonly Instruction[], indent: string): string[] =>
    instructions.flatMap((instruction) => step(instruction, indent));

  const step = (instruction: Instruction, indent: string): string[] => {
    switch (instruction.do) {
      case 'const':
        return [`${indent}${typed(instruction.to)} = ${printNumber(instruction.value)}`];
      case 'compute':
        return [`${indent}${typed(instruction.to)} = ${instruction.op} ${instruction.args.map(value).join(' ')}`];
      case 'load':
        return [`${indent}${typed(instruction.to)} = ${element(instruction.slot, instruction.index)}`];
      case 'store':
        return [`${indent}${element(instruction.slot, instruction.index)} <- ${value(instruction.value)}`];
      case 'line_load':
        return [`${indent}${typed(instruction.to)} = ${slot(instruction.slot)} ago ${value(instruction.ago)}`];
      case 'line_push':
        return [`${indent}push ${slot(instruction.slot)} <- ${value(instruction.value)}`];
      case 'if':
        return [
          `${indent}if ${value(instruction.condition)}`,
          ...list(instruction.then, `${indent}  `),
          ...(instruction.else.length > 0 ? [`${indent}else`, ...list(instruction.else, `${indent}  `)] : []),
        ];
      case 'repeat':
        return [
          `${indent}repeat ${instruction.count} as ${value(instruction.index)}`,
          ...list(instruction.body, `${indent}  `),
        ];
      case 'call': {
        const call = `${instruction.func}(${instruction.args.map(value).join(', ')})`;
        return [instruction.to === undefined ? `${indent}${call}` : `${indent}${typed(instruction.to)} = ${call}`];
      }
      case 'note':
        return [`${indent}# ${instruction.block}: ${instruction.text}`];
    }
  };

  const parameters = func.values.slice(0, func.parameters).map((_, i) => typed(i));
  const result = func.result === undefined ? '' : ` gives ${value(func.result)}`;
  return [`function ${func.name}(${parameters.join(', ')})${result}`, ...list(func.body, '  ')].join('\n');
}
