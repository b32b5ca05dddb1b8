/** Opens what a verb works on: a sheet's file, compiled with the library. */

import { existsSync, realpathSync } from 'node:fs';
import { basename, dirname, join, sep } from 'node:path';
import { library } from '../../blocks/library.ts';
import { type Compiled, type CompileOptions, compile } from '../../compiler/compile.ts';
import type { Finding } from '../../compiler/findings.ts';
import type { Real } from '../../compiler/ir/program.ts';
import { MAX_CSV_LENGTH } from '../../compiler/sheet/csv.ts';
import { loadSheet, MAX_SHEET_LENGTH } from '../../compiler/sheet/load.ts';
import type { Sheet } from '../../compiler/sheet/sheet.ts';
import { type Answer, refusedBy } from './answer.ts';
import { readText } from './files.ts';

/** A sheet's file that could be read. */
export interface OpenSheet {
  readonly file: string;
  readonly sheet: Sheet;
  /**
   * What compiling it takes: the library, files beside it, and its file's name without the endings, after which the
   * exported C is named.
   */
  readonly options: CompileOptions & { readonly name: string };
}

/** Reads a sheet, or answers why not. */
export function openSheet(file: string): OpenSheet | Answer {
  const { value, findings } = loadSheet(readText(file, MAX_SHEET_LENGTH));
  if (value === undefined) return refusedBy(file, findings);
  const name = basename(file).replace(/(\.sheet)?\.json$/, '');
  const files = (beside: string) => fileBeside(dirname(file), beside);
  return { file, sheet: value, options: { library, name, files } };
}

/** The text of a file in a sheet's folder or below it; a sheet from elsewhere must not read anything else. */
function fileBeside(folder: string, name: string): string | undefined {
  const path = join(folder, name);
  if (!existsSync(path)) return undefined;
  const isInside = realpathSync(path).startsWith(realpathSync(folder) + sep);
  return isInside ? readText(path, MAX_CSV_LENGTH) : undefined;
}

/** A sheet that compiles, with what there is to say about it. */
export interface Design extends OpenSheet {
  readonly compiled: Compiled;
  readonly findings: readonly Finding[];
}

/** Reads and compiles a sheet, or answers why not. */
export function openDesign(file: string, number?: Real): Design | Answer {
  const open = openSheet(file);
  if (isAnswer(open)) return open;
  const { value, findings } = compile(open.sheet, { ...open.options, ...(number === undefined ? {} : { number }) });
  if (value === undefined)
    return refusedBy(
      file,
      findings.filter((finding) => finding.level === 'error'),
    );
  return { ...open, compiled: value, findings };
}

/** Whether what was to be opened became an answer. */
export function isAnswer<T extends object>(opened: T | Answer): opened is Answer {
  return 'status' in opened;
}
