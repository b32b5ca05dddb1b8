/** Sheets as files: open, drop, save, download, zip. A file that cannot be read loses nothing: its text stays to be mended. */
import { strToU8, zipSync } from 'fflate';
import { library } from '../../blocks/library.ts';
import type { Finding } from '../../compiler/findings.ts';
import { withVersions } from '../../compiler/review/versions.ts';
import { MAX_CSV_LENGTH, readCsv } from '../../compiler/sheet/csv.ts';
import { loadSheet } from '../../compiler/sheet/load.ts';
import { saveSheet } from '../../compiler/sheet/save.ts';
import { blankSheet } from '../../compiler/sheet/sheet.ts';
import { sentence } from '../../compiler/wording.ts';
import { lookAt } from '../draw/going.ts';
import { say, startOver, takeUp } from '../session.ts';
import type { Workbench } from '../workbench.ts';
import { LONGEST_LINK, linkTo, sheetInLink } from './link.ts';
import { FIRST_SAMPLE, sampleText } from './samples.ts';
import { stateOf } from './sheet.ts';

/** What a sheet's file is called after its name. */
const ENDING = '.sheet.json';

/** A file that could not be read, with its text and what is wrong with it. */
export interface BrokenFile {
  readonly name: string;
  readonly text: string;
  readonly findings: readonly Finding[];
}

/** The file each kept sheet was last read from or written to, where the browser lets us write it again. */
const handles = new Map<string, FileSystemFileHandle>();

/** The name of a sheet from the name of its file. */
export function sheetName(file: string): string {
  return file.replace(/\.sheet\.json$|\.json$/, '') || 'sheet';
}

/** Reads a sheet's text and turns to it; a broken one is put beside, with its findings, and nothing else changes. */
export async function openText(workbench: Workbench, name: string, text: string): Promise<boolean> {
  const { value, findings } = loadSheet(text);
  if (value === undefined) {
    workbench.session.setState({ broken: { name, text, findings } });
    say(workbench.session, `${name} cannot be read as it is; its text is in the margin, to be mended.`, true);
    return false;
  }
  await turnTo(workbench, name, () => stateOf(value));
  workbench.journal.written();
  say(workbench.session, `${name} is open.`);
  return true;
}

export async function newSheet(workbench: Workbench): Promise<void> {
  await turnTo(workbench, 'sheet', () => stateOf(blankSheet()));
}

/** Opens a machine that comes with the editor, as a copy of one's own. */
export async function openSample(workbench: Workbench, name: string): Promise<void> {
  const text = await sampleText(name);
  if (text !== undefined) await openText(workbench, name, text);
}

/** Opens the sheet that the address holds, as a new one, and clears the address; false where it holds none. */
export async function openLinked(workbench: Workbench): Promise<boolean> {
  const linked = sheetInLink(location.hash);
  if (linked === undefined) return false;
  history.replaceState(null, '', location.pathname);
  return openText(workbench, linked.name, linked.text);
}

/** What a first visit sees: a sample machine if one is there, else an empty sheet. */
export async function firstSheet(workbench: Workbench): Promise<void> {
  if (FIRST_SAMPLE === undefined) await newSheet(workbench);
  else {
    await openSample(workbench, FIRST_SAMPLE);
    if (workbench.journal.status().kept === undefined) await newSheet(workbench);
  }
}

/** Turns to another sheet kept in this browser. */
export async function openKept(workbench: Workbench, id: string): Promise<boolean> {
  const restored = await workbench.journal.restore(id, ({ view, drafts, beside, state }) => {
    startOver(workbench.session);
    takeUp(workbench.session, view, drafts);
    workbench.beside.replace(beside);
    workbench.document.replace(state);
  });
  return restored !== undefined;
}

async function turnTo(workbench: Workbench, name: string, state: () => ReturnType<typeof stateOf>): Promise<void> {
  const { document, journal, session, beside } = workbench;
  const next = state();
  await journal.begin(name, next, () => {
    beside.replace({});
    startOver(session);
    document.replace(next);
  });
  lookAt(workbench, 'all');
}

/** Asks for a file and opens it: a sheet, or a table to stand beside this one. */
export async function chooseFile(workbench: Workbench): Promise<void> {
  const input = document.createElement('input');
  input.type = 'file';
  input.multiple = true;
  input.accept = '.json,application/json,.csv,text/csv';
  input.addEventListener('change', () => {
    void openFiles(workbench, [...(input.files ?? [])]);
  });
  input.click();
}

/** What was chosen before is opened before. */
let opening: Promise<void> = Promise.resolve();

/** Opens what was chosen or dropped: a sheet first, then tables, which stand beside it. */
export function openFiles(workbench: Workbench, files: readonly File[]): Promise<void> {
  opening = opening.then(() => openEach(workbench, files));
  return opening;
}

async function openEach(workbench: Workbench, files: readonly File[]): Promise<void> {
  const tables = files.filter(({ name }) => /\.csv$/i.test(name));
  const sheet = files.find((file) => !tables.includes(file));
  if (sheet !== undefined) await openText(workbench, sheetName(sheet.name), await sheet.text());
  for (const table of tables) await putBeside(workbench, table);
}

async function putBeside({ beside, document, session }: Workbench, file: File): Promise<void> {
  const why = document.locked();
  if (why !== undefined) return say(session, why);
  if (file.size > 2 * MAX_CSV_LENGTH)
    return say(session, `${file.name} is too large to stand beside a sheet; cut it to the part that is needed.`, true);
  const text = await file.text();
  beside.put(file.name, text);
  const { value, findings } = readCsv(text, file.name);
  const wrong = findings[0];
  const rows = value === undefined ? '' : `, with ${value.rows} rows of ${[...value.columns.keys()].join(', ')}`;
  say(
    session,
    wrong === undefined ? `${file.name} stands beside the sheet${rows}.` : sentence(wrong).full,
    wrong !== undefined,
  );
  session.setState({ mark: undefined, selection: [] });
}

/** The sheet's file: with the versions of the library blocks it was made with. */
function textOf({ document }: Workbench): string {
  return saveSheet(withVersions(document.sheet(), library));
}

/** Writes the sheet over the file it belongs to; asks where, the first time, where the browser can; otherwise downloads it. */
export async function save(workbench: Workbench): Promise<void> {
  const { kept } = workbench.journal.status();
  const ask = (window as { showSaveFilePicker?: (options: object) => Promise<FileSystemFileHandle> })
    .showSaveFilePicker;
  if (kept === undefined || ask === undefined) return download(workbench);
  try {
    const suggestedName = `${kept.name}${ENDING}`;
    const handle =
      handles.get(kept.id) ??
      (await ask.call(window, { suggestedName, types: [{ accept: { 'application/json': ['.json'] } }] }));
    const file = await handle.createWritable();
    await file.write(textOf(workbench));
    await file.close();
    handles.set(kept.id, handle);
    workbench.journal.rename(sheetName(handle.name));
    workbench.journal.written();
    say(workbench.session, `Written to ${handle.name}.`);
  } catch (error) {
    if (error instanceof DOMException && error.name === 'AbortError') return;
    say(workbench.session, `The file could not be written (${String(error)}); download it instead.`, true);
  }
}

export function download(workbench: Workbench): void {
  const name = `${workbench.journal.status().kept?.name ?? 'sheet'}${ENDING}`;
  hand(name, new Blob([textOf(workbench)], { type: 'application/json' }));
  workbench.journal.written();
  say(workbench.session, `Downloaded ${name}.`);
}

/** Downloads several texts as one zip with a folder of its own. Packed at once: threads made from a text are not let in by the content security policy. */
export function downloadZip(name: string, files: Readonly<Record<string, string>>): void {
  const entries = Object.fromEntries(Object.entries(files).map(([path, text]) => [`${name}/${path}`, strToU8(text)]));
  const bytes = zipSync(entries, { mtime: new Date(1980, 0, 1) });
  hand(`${name}.zip`, new Blob([bytes as Uint8Array<ArrayBuffer>], { type: 'application/zip' }));
}

export async function copyLink(workbench: Workbench): Promise<void> {
  const { journal, session } = workbench;
  const link = linkTo(location.href, journal.status().kept?.name ?? 'sheet', textOf(workbench));
  if (link.length > LONGEST_LINK) {
    say(session, `As a link this sheet has ${link.length} characters, more than most programs carry; send its file.`);
    return;
  }
  await navigator.clipboard.writeText(link).then(
    () => say(session, 'The link is copied; whoever opens it has a copy of this sheet.'),
    () => say(session, 'The browser does not let this page copy.'),
  );
}

/** Hands a file to the browser's downloads. */
export function hand(name: string, blob: Blob): void {
  const link = document.createElement('a');
  link.href = URL.createObjectURL(blob);
  link.download = name;
  link.click();
  setTimeout(() => URL.revokeObjectURL(link.href), 10_000);
}

/** Files dropped anywhere on the window are opened. */
export function acceptDrops(target: Window, workbench: Workbench): void {
  target.addEventListener('dragover', (event) => {
    if (event.dataTransfer?.types.includes('Files')) event.preventDefault();
  });
  target.addEventListener('drop', (event) => {
    const files = [...(event.dataTransfer?.files ?? [])];
    if (files.length === 0) return;
    event.preventDefault();
    void openFiles(workbench, files);
  });
}
