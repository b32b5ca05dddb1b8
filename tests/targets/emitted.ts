/** Emits samples for targets into folders of their own, and makes and runs what was emitted. */

import { spawn } from 'node:child_process';
import { mkdirSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { dirname, join } from 'node:path';
import { library } from '../../blocks/library.ts';
import type { CFile } from '../../compiler/c/lines.ts';
import { mostNumbers } from '../../compiler/c/reference.ts';
import { emitTarget, type Request, type Target } from '../../compiler/c/targets/target.ts';
import { targets } from '../../compiler/c/targets/targets.ts';
import { compile } from '../../compiler/compile.ts';
import type { Finding } from '../../compiler/findings.ts';
import type { Real } from '../../compiler/ir/program.ts';
import type { Sheet } from '../../compiler/sheet/sheet.ts';
import { selfcheckReference } from '../../runtime/bench/selfcheck.ts';
import { hasCommand } from '../agree/programs_c.ts';
import { sample } from '../samples/sample.ts';

export const rowScout = 'row_scout/row_scout.sheet.json';

/** The commands that `make check` of a target needs. */
const tools: Readonly<Record<string, readonly string[]>> = {
  plain: ['gcc'],
  cortex_m: ['arm-none-eabi-gcc', 'qemu-system-arm'],
  riscv: ['riscv64-unknown-elf-gcc', 'qemu-system-riscv32'],
  avr: ['avr-gcc', 'simavr'],
  posix: ['gcc'],
  sketch: ['gcc'],
  fmu: ['gcc'],
};

export const hasToolsFor = (target: string): boolean =>
  ['make', ...(tools[target] ?? [])].every((command) => hasCommand(command));

export function targetNamed(name: string): Target {
  const target = targets.find((one) => one.name === name);
  if (target === undefined) throw new Error(`no target ${name}`);
  return target;
}

/** A sample as the request that the command makes of it, with the self-check of a run. */
export async function requestFor(
  path: string,
  run: string | undefined,
  options: {
    readonly number?: Real;
    readonly for?: string;
    readonly eachNumber?: boolean;
    readonly change?: Partial<Sheet>;
  } = {},
): Promise<Request> {
  const name = path.replace(/^.*\//, '').replace('.sheet.json', '');
  return requestOf({ ...sample(path), ...options.change }, name, run, options);
}

export async function requestOf(
  sheet: Sheet,
  name: string,
  run: string | undefined,
  options: { readonly number?: Real; readonly for?: string; readonly eachNumber?: boolean } = {},
): Promise<Request> {
  const number = options.number ?? sheet.number;
  const { value } = compile(sheet, { library, name, number });
  if (value === undefined) throw new Error(`${name} does not compile`);
  const findings: Finding[] = [];
  const wanted = {
    library,
    name,
    number,
    run: run ?? '',
    ...(options.for === undefined ? {} : { for: options.for }),
  };
  const most = options.eachNumber === true ? mostNumbers : 0;
  const reference = run === undefined ? undefined : await selfcheckReference(sheet, value, wanted, findings, most);
  if (run !== undefined && reference === undefined) throw new Error(JSON.stringify(findings));
  return {
    name,
    title: sheet.title,
    program: value.controller,
    tick: { text: String(sheet.tick), seconds: value.resolved.tick },
    outputs: sheet.outputs,
    sheetHash: 'of the test',
    ...(run === undefined || reference === undefined ? {} : { check: { run, reference } }),
  };
}

export const emitFor = (target: string, request: Request): CFile[] => emitTarget(targetNamed(target), request);

/** A folder with these files that is gone after `use`. */
export async function withFiles<T>(files: readonly CFile[], use: (folder: string) => Promise<T> | T): Promise<T> {
  const folder = mkdtempSync(join(tmpdir(), 'loopwright-'));
  try {
    for (const { name, text } of files) {
      mkdirSync(dirname(join(folder, name)), { recursive: true });
      writeFileSync(join(folder, name), text);
    }
    return await use(folder);
  } finally {
    rmSync(folder, { recursive: true, force: true });
  }
}

export interface Ran {
  readonly status: number | null;
  readonly output: string;
  readonly errors: string;
}

/** Runs a command to its end without holding up others. */
export function ran(folder: string, command: string, ...words: string[]): Promise<Ran> {
  return new Promise((resolve, reject) => {
    const child = spawn(command, words, { cwd: folder, stdio: ['ignore', 'pipe', 'pipe'] });
    let output = '';
    let errors = '';
    child.stdout.on('data', (part: Buffer) => {
      output += part.toString();
    });
    child.stderr.on('data', (part: Buffer) => {
      errors += part.toString();
    });
    child.on('error', reject);
    child.on('close', (status) => resolve({ status, output, errors }));
  });
}

export const make = (folder: string, ...words: string[]): Promise<Ran> => ran(folder, 'make', '-s', ...words);

/** Puts one number of a program's start a bit higher. */
export function spoil(folder: string, name: string): void {
  const path = join(folder, `${name}.c`);
  const text = readFileSync(path, 'utf8');
  let spoilt = 0;
  const changed = text.replace(/(m->\w*(?:_k1|limit) = )(-?[\d.]+)f;/, (_, left: string, number: string) => {
    spoilt++;
    const bits = new DataView(new ArrayBuffer(4));
    bits.setFloat32(0, Number(number));
    bits.setInt32(0, bits.getInt32(0) + 1);
    return `${left}${bits.getFloat32(0)}f;`;
  });
  if (spoilt === 0) throw new Error(`nothing to spoil in ${path}`);
  writeFileSync(path, changed);
}
