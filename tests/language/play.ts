/** Plays number sequences into one block of the shelf, on the real compiler and bench. */

import { library } from '../../blocks/library.ts';
import { compile } from '../../compiler/compile.ts';
import type { Finding } from '../../compiler/findings.ts';
import { parseBlock } from '../../compiler/language/parser.ts';
import { type BlockOnSheet, blankSheet, type SettingValue } from '../../compiler/sheet/sheet.ts';
import { type Event, openBench } from '../../runtime/bench/bench.ts';

export interface Playing {
  /** Name on the shelf. */
  readonly is: string;
  readonly set?: Readonly<Record<string, SettingValue>>;
  /** Open-ended inputs with their kinds. */
  readonly kinds?: Readonly<Record<string, string>>;
  readonly tick: SettingValue;
  readonly number?: 'f32' | 'f64';
  /** A value a tick for each input; the last one stays. */
  readonly inputs: Readonly<Record<string, readonly (number | boolean)[]>>;
  readonly ticks: number;
  readonly outputs: readonly string[];
  /** Settings put to a new value at a tick. */
  readonly adjust?: readonly { readonly tick: number; readonly setting: string; readonly value: SettingValue }[];
}

const source = (name: string, type: string, value: string): string =>
  `block ${name}\n  "An input of a test."\nout y: ${type}\nset value: ${type} = ${value}\ny = value\n`;

/** What a block gives, tick by tick, for each output asked for. */
export async function play(playing: Playing): Promise<Record<string, number[]>> {
  const it: BlockOnSheet = { is: playing.is, set: playing.set ?? {}, inputs: playing.kinds ?? {} };
  const blocks: Record<string, BlockOnSheet> = { it };
  const wires: Record<string, string> = {};
  const hooks: string[] = [];
  const events: Event[] = [];
  const block = library.get(playing.is);
  const text = block === undefined ? undefined : parseBlock(block.text, playing.is).value;
  const plant = block?.shelf === 'plant' || block?.text.includes('\nchannel in ');
  for (const [input, values] of Object.entries(playing.inputs)) {
    const base = typeof values[0] === 'boolean' ? 'bool' : text?.inputs.find(({ name }) => name === input)?.type.base;
    const type = base === 'bool' ? 'yes_or_no' : base === 'int' ? 'whole' : 'fixed';
    blocks[`from_${input}`] = plant ? { is: type, side: 'plant' } : { is: type };
    wires[`it.${input}`] = `from_${input}.y`;
    const hook = hooks.push(`from_${input}.y`) - 1;
    for (const [tick, value] of values.entries())
      if (value !== values[tick - 1] || tick === 0)
        events.push({ tick, do: 'hook', hook, mode: 2, amount: Number(value) });
  }
  for (const { tick, setting, value } of playing.adjust ?? [])
    events.push({ tick, do: 'set', setting: `it.${setting}`, value });
  const sheet = {
    ...blankSheet(),
    tick: String(playing.tick),
    number: playing.number ?? ('f64' as const),
    blocks,
    wires,
    shelf: { yes_or_no: source('yes_or_no', 'bool', 'false'), whole: source('whole', 'int', '0') },
  };
  const { value, findings } = compile(sheet, { library });
  if (value === undefined)
    throw new Error(findings.map(({ id, facts }) => `${id} ${JSON.stringify(facts)}`).join('\n'));
  const trouble: Finding[] = [];
  events.sort((a, b) => a.tick - b.tick);
  const record = playing.outputs.map((output) => `it.${output}`);
  const bench = await openBench(value, { engine: 'interpreter', record, hooks, events }, trouble);
  if (trouble.length > 0) throw new Error(trouble.map(({ id, facts }) => `${id} ${JSON.stringify(facts)}`).join('\n'));
  const rows = bench.advance(playing.ticks);
  const width = bench.columns.length;
  return Object.fromEntries(
    bench.columns.map(({ name }, i) => [
      name.replace(/^it\./, ''),
      Array.from({ length: playing.ticks }, (_, k) => rows[k * width + i] ?? Number.NaN),
    ]),
  );
}
