/** What is made of the sheet for a board: asked of the export's thread, kept until the sheet changes. */
import { createStore } from 'zustand/vanilla';
import type { Finding } from '../../compiler/findings.ts';
import type { Real } from '../../compiler/ir/program.ts';
import type { Sheet } from '../../compiler/sheet/sheet.ts';
import type { Beside } from '../document/beside.ts';
import { downloadZip } from '../document/files.ts';
import { say } from '../session.ts';
import type { Workbench } from '../workbench.ts';
import { readme } from './readme.ts';
import type { Answer, Made, Proof, Question } from './ship.worker.ts';

export interface Export {
  /** What was made last, and of which sheet and number type. */
  readonly sheet: Sheet | undefined;
  readonly name: string;
  readonly real: Real | undefined;
  readonly beside: Beside | undefined;
  readonly made: Made | undefined;
  readonly proof: Proof | undefined;
  readonly findings: readonly Finding[];
  readonly failed: string | undefined;
  readonly busy: boolean;
  /** Number type of this export, where it is not the sheet's. */
  readonly chosen: Real | undefined;
  /** Run whose self-check goes along. */
  readonly run: string | undefined;
}

export const exported = createStore<Export>(() => ({
  sheet: undefined,
  name: '',
  real: undefined,
  beside: undefined,
  made: undefined,
  proof: undefined,
  findings: [],
  failed: undefined,
  busy: false,
  chosen: undefined,
  run: undefined,
}));

let worker: Worker | undefined;
let number = 0;
const waiting = new Map<number, (answer: Answer) => void>();

function ask(question: Omit<Question, 'number'>): Promise<Answer> {
  worker ??= start();
  number += 1;
  const asked = number;
  worker.postMessage({ ...question, number: asked } satisfies Question);
  return new Promise((resolve) => waiting.set(asked, resolve));
}

function start(): Worker {
  const made = new Worker(new URL('./ship.worker.ts', import.meta.url), { type: 'module' });
  made.onmessage = ({ data }: MessageEvent<Answer>) => {
    waiting.get(data.number)?.(data);
    waiting.delete(data.number);
  };
  made.onerror = () => {
    worker?.terminate();
    worker = undefined;
    const failed = 'The export stopped; the sheet is safe. It starts again at the next change.';
    for (const [asked, resolve] of waiting)
      resolve({ number: asked, made: undefined, proof: undefined, findings: [], failed });
    waiting.clear();
  };
  return made;
}

/** A name that C takes: letters, digits and underscores. */
function cName(kept: string): string {
  const name = kept.replaceAll(/[^A-Za-z0-9_]+/g, '_').replaceAll(/^_+|_+$/g, '');
  return /^[A-Za-z]/.test(name) ? name : `sheet_${name}`;
}

function questionOf({ document, journal, beside }: Workbench): Omit<Question, 'number' | 'run'> {
  const sheet = document.sheet();
  const { chosen } = exported.getState();
  return {
    sheet,
    name: cName(journal.status().kept?.name ?? 'sheet'),
    real: chosen ?? sheet.number,
    beside: beside.files(),
  };
}

/** Makes the C of the present sheet, unless it is there already. */
export async function makeC(workbench: Workbench): Promise<void> {
  const question = questionOf(workbench);
  const now = exported.getState();
  if (
    now.sheet === question.sheet &&
    now.real === question.real &&
    now.name === question.name &&
    now.beside === question.beside
  )
    return;
  exported.setState({ ...question, busy: true, proof: undefined });
  const { made, findings, failed } = await ask({ ...question, run: undefined });
  if (exported.getState().sheet !== question.sheet || exported.getState().real !== question.real) return;
  exported.setState((last) => ({
    made: made ?? last.made,
    findings: made === undefined ? findings : [],
    failed,
    busy: false,
  }));
}

/** Replays a run and compares the bits; true when there is a proof of this very sheet. */
export async function prove(workbench: Workbench, run: string): Promise<Proof | undefined> {
  const question = questionOf(workbench);
  exported.setState({ busy: true, run });
  const { proof, findings, failed } = await ask({ ...question, run });
  exported.setState({
    busy: false,
    failed,
    findings,
    proof: exported.getState().sheet === question.sheet ? proof : undefined,
  });
  return proof;
}

/** Downloads the C with the self-check of the chosen run, if the sheet has runs. */
export async function downloadC(workbench: Workbench, run: string | undefined): Promise<void> {
  await makeC(workbench);
  const { made, name, real } = exported.getState();
  if (made === undefined || real === undefined) {
    say(workbench.session, 'There is no C yet: the sheet has errors.', true);
    return;
  }
  const proof = run === undefined ? undefined : await prove(workbench, run);
  const files = Object.fromEntries(
    made.files.map((file) => [file.name, file.lines.map(({ text }) => text).join('\n')]),
  );
  if (proof !== undefined) files['selfcheck.c'] = proof.text;
  files['README.txt'] = readme(name, workbench.document.sheet().title, made, proof);
  await downloadZip(name, files);
  say(
    workbench.session,
    `Downloaded ${name}.zip${proof === undefined ? '' : `, with the self-check of ${proof.run}`}.`,
  );
}
