/** The page beside an export: what it is, how it is built, wired and checked, and what to be careful about. */

import type { Field } from '../fields.ts';
import { isArray } from '../fields.ts';
import { cautions } from '../header.ts';
import { inComment } from '../lines.ts';
import { fieldType } from '../literals.ts';
import { type Made, type Target, textFile } from './target.ts';

export interface Page {
  /** Each file besides the program's with what it is for. */
  readonly files: readonly (readonly [name: string, purpose: string])[];
  /** How it is built and checked, in paragraphs. */
  readonly build: string;
  /** How it gets to its sensors and actuators. */
  readonly wiring: string;
  /** What this target's check runs on, for "what was checked". */
  readonly checkedOn: string;
}

export function readme(made: Made, target: Pick<Target, 'about' | 'cautions'>, page: Page) {
  const { title, file, prefix, fields, tick, operations, sheetHash } = made;
  const files: readonly (readonly [string, string])[] = [
    [`${file}.c, ${file}.h`, 'the program, as drawn'],
    ...(made.check === undefined ? [] : [['selfcheck.c', 'the self-check, which is also the start-up test'] as const]),
    ...page.files,
  ];
  return textFile(
    'README.md',
    `# ${line(title)}: ${target.about}

Made by Loopwright from a sheet: change the sheet and emit again.${sheetHash === undefined ? '' : `\nThe sheet's hash is ${sheetHash} (SHA-256 of all of it that means something).`}

## Before you arm anything

${[...cautions, ...target.cautions].map((caution) => `- ${caution}`).join('\n')}

## What is here

${files.map(([name, purpose]) => `- \`${name}\`: ${purpose}`).join('\n')}

## Build and check

${page.build}

## What was checked

${checked(made, page.checkedOn)}

## Wire it

${page.wiring}

Call \`${prefix}_tick\` once every ${line(tick.text)}: its filters and integrators are made for that period.

${table('Sensors', fields.in)}
${table('Actuators', fields.out)}
## What it takes

${fields.bytes.m} bytes of state, ${fields.bytes.in} of inputs and ${fields.bytes.out} of outputs; at most ${operations} operations a tick. \`make size\` prints
code size and stack for your compiler and its flags.`,
  );
}

function checked({ check, ticks }: Made, on: string): string {
  if (check === undefined)
    return `Nothing yet: emit with \`--selfcheck RUN\` to get a self-check. \`make\` alone says only that it compiles.`;
  const { reference, run } = check;
  const part =
    ticks === reference.ticks
      ? `all ${ticks} ticks`
      : `the first ${ticks} of ${reference.ticks} ticks, as many as there is room for,`;
  const how =
    reference.expected.kind === 'sums'
      ? 'by a 32-bit checksum over all of them at every tick: a single one that differs is always seen'
      : 'one by one';
  return `The self-check replays the raw sensor readings of ${part} of the run "${line(run)}" and compares the bits of ${reference.values} values
(outputs, memories, held values and settings), ${how}. It runs ${on}. What is expected comes from the simulation. It says
that this compiler and this processor compute what was simulated; it says nothing about wiring, sensors, actuators, timing
or the plant.`;
}

function table(title: string, fields: readonly Field[]): string {
  if (fields.length === 0) return `${title}: none.\n`;
  const rows = fields.map(({ slot, name }) => {
    const type = `${fieldType[slot.type]}${isArray(slot) ? `[${slot.length}]` : ''}`;
    return `| \`${name}\` | ${type} | ${line(slot.note ?? '').replaceAll('|', '\\|')} |`;
  });
  return `| ${title} | type | raw number |\n|---|---|---|\n${rows.join('\n')}\n`;
}

const line = (text: string): string => inComment(text).replace(/[<>]/g, (sign) => `\\${sign}`);
