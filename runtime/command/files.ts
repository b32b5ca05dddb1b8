/** Reading and writing files, with every way it can fail said in a sentence. */

import {
  closeSync,
  existsSync,
  mkdirSync,
  openSync,
  readFileSync,
  renameSync,
  rmSync,
  statSync,
  writeFileSync,
} from 'node:fs';
import { dirname, join, resolve } from 'node:path';
import { Refusal } from './answer.ts';

/** What may be wrong with a file, by the system's name for it. */
const TROUBLE: Readonly<Record<string, string>> = {
  ENOENT: 'there is no such file or folder; check the name',
  ENOTDIR: 'part of the path is a file, not a folder; check the name',
  EISDIR: 'this is a folder; give a file',
  EEXIST: 'a file stands where a folder is to be; choose another place',
  EACCES: 'permission is denied; choose another place or change its rights',
  EPERM: 'this is not permitted; choose another place or change its rights',
  EROFS: 'the disk can only be read; choose another place',
  ENOSPC: 'the disk is full; make room or choose another place',
  EDQUOT: 'your share of the disk is full; make room or choose another place',
  EFBIG: 'the file would grow too large for this disk; choose another place',
  EMFILE: 'too many files are open; close some programs',
  ENAMETOOLONG: 'the name is too long; choose a shorter one',
  ELOOP: 'its links lead in a circle; check the name',
  EIO: 'the disk does not answer as it should; check it',
};

/** Does something with a file; what the system refuses becomes a refusal of the call. */
function trying<T>(path: string, what: () => T): T {
  try {
    return what();
  } catch (error) {
    const code = error instanceof Error && 'code' in error ? String(error.code) : '';
    const trouble = TROUBLE[code];
    if (code === '' || (trouble === undefined && !/^E[A-Z]+$/.test(code))) throw error;
    throw new Refusal(trouble ?? `the system refuses with ${code}; choose another place`, path);
  }
}

/** A whole text file. Longer ones than `longest` characters are not read: their size is told instead. */
export function readText(path: string, longest: number): string {
  return trying(path, () => {
    const { size } = statSync(path);
    // A character takes at most three bytes a UTF-16 unit, so a file this large is too long whatever is in it.
    if (size > 3 * longest) {
      const millions = (size / 1e6).toFixed(1);
      throw new Refusal(
        `the file has ${millions} million bytes, too many to read; check that it is the right one`,
        path,
        1,
      );
    }
    return readFileSync(path, 'utf8');
  });
}

/** Makes a folder and those it stands in. */
export function makeFolder(path: string): void {
  trying(path, () => {
    // One by one: where the system refuses, `recursive` of Node 20 may try for ever.
    const missing: string[] = [];
    for (let at = resolve(path); !existsSync(at); at = dirname(at)) missing.unshift(at);
    for (const folder of missing) mkdirSync(folder);
    mkdirSync(path, { recursive: true });
  });
}

/** Writes a whole file, or leaves what was there. */
export function writeText(path: string, text: string): void {
  const file = new TextFile(path);
  try {
    file.add(text);
    file.keep();
  } finally {
    file.drop();
  }
}

/** A text file written part by part; until it is kept, what stood under its name stays. */
export class TextFile {
  private readonly path: string;
  private readonly fresh: string;
  private handle: number | undefined;

  constructor(path: string) {
    this.path = path;
    const isDevice = trying(path, () => statSync(path, { throwIfNoEntry: false })?.isFile()) === false;
    this.fresh = isDevice ? path : partOf(path);
    this.handle = trying(path, () => openSync(this.fresh, 'w'));
  }

  add(text: string): void {
    const handle = this.handle;
    if (handle !== undefined) trying(this.path, () => writeFileSync(handle, text));
  }

  /** The file is whole: it takes its name. */
  keep(): void {
    this.close();
    if (this.fresh !== this.path) trying(this.path, () => renameSync(this.fresh, this.path));
  }

  /** Leaves nothing behind unless it was kept. */
  drop(): void {
    if (this.handle === undefined) return;
    this.close();
    if (this.fresh !== this.path) rmSync(this.fresh, { force: true });
  }

  private close(): void {
    const handle = this.handle;
    this.handle = undefined;
    if (handle !== undefined) trying(this.path, () => closeSync(handle));
  }
}

function partOf(path: string): string {
  return join(dirname(path), `.${process.pid}.part`);
}
