/** Opens what a verb works on: a sheet's file, compiled with the library. */

import { basename, dirname } from 'node:path';
import { library } from '../../blocks/library.ts';
import { type Compiled, type CompileOptions, compile } from '../../compiler/compile.ts';
import type { Finding } from '../../compiler/findings.ts';
import { loadSheet, MAX_SHEET_LENGTH } from '../../compiler/sheet/load.ts';
import type { Sheet } from '../../compiler/sheet/sheet.ts';
import { type Answer, refusedBy } from './answer.ts';
import { readText } from './files.ts';

/** A sheet's file that could be read. */
export interface OpenSheet {
  readonly file: string;
  /** The folder it stands in, for files beside it. */
  readonly folder: string;
  /** The file's name without its endings; the exported C is named after it. */
  readonly name: string;
  readonly sheet: Sheet;
}

/** Reads a sheet, or answers why not. */
export function openSheet(file: string): OpenSheet | Answer {
  const { value, findings } = loadSheet(readText(file, MAX_SHEET_LENGTH));
  if (value === undefined) return refusedBy(file, findings);
  const name = basename(file).replace(/(\.sheet)?\.json$/, '');
  return { file, folder: dirname(file), name, sheet: value };
}

/** A sheet that compiles, with what there is to say about it. */
export interface Design extends OpenSheet {
  readonly compiled: Compiled;
  readonly findings: readonly Finding[];
}

/** Reads and compiles a sheet, or answers why not. */
export function openDesign(file: string, options: Omit<CompileOptions, 'library' | 'name'> = {}): Design | Answer {
  const open = openSheet(file);
  if (isAnswer(open)) return open;
  const { value, findings } = compile(open.sheet, { ...options, library, name: open.name });
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
