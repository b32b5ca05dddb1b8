/** The export's own thread: a sheet in; its C, its beats and, when asked, the self-check of a run with the same bits compared, out. */
import { library } from '../../blocks/library.ts';
import { cFields, emitC } from '../../compiler/c/emit.ts';
import { recordReference } from '../../compiler/c/reference.ts';
import { emitSelfcheck } from '../../compiler/c/selfcheck.ts';
import { type Compiled, compile } from '../../compiler/compile.ts';
import type { Finding } from '../../compiler/findings.ts';
import { createInterpreter } from '../../compiler/ir/interpreter.ts';
import type { Real } from '../../compiler/ir/program.ts';
import type { Sheet } from '../../compiler/sheet/sheet.ts';
import { workByBlock } from '../../compiler/stages/schedule.ts';
import { selfcheckReference } from '../../runtime/bench/selfcheck.ts';
import { type Beside, readerOf } from '../document/beside.ts';

/** What is asked: the C alone, or with the self-check of a run. */
export interface Question {
  readonly number: number;
  readonly sheet: Sheet;
  readonly name: string;
  readonly real: Real;
  readonly run: string | undefined;
  /** Files beside the sheet. */
  readonly beside: Beside;
}

export interface Line {
  readonly text: string;
  readonly block: string | undefined;
}

export interface ShownFile {
  readonly name: string;
  readonly lines: readonly Line[];
}

/** One block's work on the ticks it runs on. */
export interface Beat {
  readonly path: string;
  readonly every: number;
  readonly phase: number;
  readonly operations: number;
}

export interface Made {
  readonly files: readonly ShownFile[];
  readonly memoryBytes: number;
  readonly inputs: readonly string[];
  readonly outputs: readonly string[];
  readonly beats: readonly Beat[];
  /** Seconds a tick, and ticks after which all repeats. */
  readonly tick: number;
  readonly period: number;
}

/** A self-check and what was compared while it was made. */
export interface Proof {
  readonly run: string;
  readonly text: string;
  readonly ticks: number;
  readonly values: number;
  /** Whether interpreter and WebAssembly gave the same bits throughout. */
  readonly same: boolean;
}

export interface Answer {
  readonly number: number;
  readonly made: Made | undefined;
  readonly proof: Proof | undefined;
  readonly findings: readonly Finding[];
  readonly failed: string | undefined;
}

self.onmessage = async ({ data }: MessageEvent<Question>) => self.postMessage(await answer(data));

async function answer(question: Question): Promise<Answer> {
  const { number } = question;
  try {
    const files = readerOf(question.beside);
    const { value, findings } = compile(question.sheet, { library, name: question.name, number: question.real, files });
    if (value === undefined) return { number, made: undefined, proof: undefined, findings, failed: undefined };
    const trouble: Finding[] = [];
    const proof = question.run === undefined ? undefined : await prove(question, question.run, value, trouble);
    return { number, made: make(question, value), proof, findings: trouble, failed: undefined };
  } catch (error) {
    const failed = `The export met a mistake of its own (${String(error)}); the sheet is safe.`;
    return { number, made: undefined, proof: undefined, findings: [], failed };
  }
}

function make({ sheet, name }: Question, { controller, schedule }: Compiled): Made {
  const files = emitC(controller, { name, purpose: sheet.title, tick: String(sheet.tick) });
  const fields = cFields(controller);
  const work = workByBlock(controller);
  return {
    files: files.map((file) => ({
      name: file.name,
      lines: file.text.split('\n').map((text, i) => ({ text, block: file.lines[i] })),
    })),
    memoryBytes: fields.bytes.m,
    inputs: fields.in.map((field) => field.name),
    outputs: fields.out.map((field) => field.name),
    beats: schedule.tasks.flatMap(({ every, phase, order }) =>
      order.map((path) => ({ path, every, phase, operations: work.get(path) ?? 0 })),
    ),
    tick: schedule.tick,
    period: schedule.period,
  };
}

/** Records a run, and lets the interpreter answer to the same raw inputs. */
async function prove(
  { sheet, name, real, beside }: Question,
  run: string,
  compiled: Compiled,
  trouble: Finding[],
): Promise<Proof | undefined> {
  const request = { library, name, number: real, run, files: readerOf(beside) };
  const reference = await selfcheckReference(sheet, compiled, request, trouble);
  if (reference === undefined) return undefined;
  const { controller } = compiled;
  const slow = recordReference(createInterpreter(controller), controller, reference.inputs, reference.ticks);
  const same = JSON.stringify(bits(slow.expected)) === JSON.stringify(bits(reference.expected));
  const { text } = emitSelfcheck(controller, reference, { name });
  return { run, text, ticks: reference.ticks, values: reference.values, same };
}

function bits(expected: ReturnType<typeof recordReference>['expected']): unknown {
  if (expected.kind === 'sums') return [...expected.sums];
  return expected.columns.map(({ slot, index, numbers }) => [
    slot,
    index,
    [...new BigUint64Array(numbers.buffer)].map(String),
  ]);
}
