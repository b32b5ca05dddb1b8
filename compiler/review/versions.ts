/** Which text of each library block a sheet was last seen with, and what to say when the library has another one now. */

import type { Finding } from '../findings.ts';
import { elementaryFunctions, elementaryNames } from '../ir/functions/elementary.ts';
import { printFunction } from '../ir/print.ts';
import { entry, isGroup, type Named, type Sheet } from '../sheet/sheet.ts';
import type { Library } from '../stages/shelf.ts';

/** The name under which a sheet keeps the version of the arithmetic. */
const ARITHMETIC = 'arithmetic';

/** FNV-1a, 64 bits, of a text's UTF-16 units, as 16 hexadecimal digits (Fowler, Noll, Vo; RFC 9923). */
export function hashOf(text: string): string {
  let hash = 0xcbf29ce484222325n;
  for (let i = 0; i < text.length; i++) hash = BigInt.asUintN(64, (hash ^ BigInt(text.charCodeAt(i))) * 0x100000001b3n);
  return hash.toString(16).padStart(16, '0');
}

/** The sheet with the version of every library block it uses, and of the arithmetic, where it says none yet. */
export function withVersions(sheet: Sheet, library: Library): Sheet {
  const versions: Record<string, string> = { ...sheet.versions };
  for (const name of usedBlocks(sheet)) {
    const block = library.get(name);
    if (block !== undefined && versions[name] === undefined) versions[name] = hashOf(block.text);
  }
  versions[ARITHMETIC] ??= arithmeticVersion();
  return { ...sheet, versions };
}

/** Library blocks and an arithmetic that are not those the sheet was made with. */
export function reviewVersions(sheet: Sheet, library: Library, findings: Finding[]): void {
  const used = usedBlocks(sheet);
  for (const [name, version] of Object.entries(sheet.versions)) {
    const take = (now: string) => ({
      label: 'Take it as it is now',
      edits: [{ path: ['versions', name], value: now }],
    });
    if (name === ARITHMETIC) {
      const now = arithmeticVersion();
      if (now !== version)
        findings.push({ id: 'arithmetic_changed', level: 'advice', at: { path: '' }, facts: {}, repair: take(now) });
      continue;
    }
    const block = library.get(name);
    if (block === undefined || !used.has(name)) continue;
    const now = hashOf(block.text);
    if (now === version) continue;
    const former = block.former?.get(version);
    findings.push({
      id: 'block_changed',
      level: 'advice',
      at: { path: '', text: name },
      facts: { name, difference: former === undefined ? '' : difference(former, block.text) },
      repair: take(now),
      ...(former === undefined
        ? {}
        : {
            otherwise: {
              label: 'Keep it as it was, on the sheet’s own shelf',
              edits: [{ path: ['shelf', name], value: former }, { path: ['versions', name] }],
            },
          }),
    });
  }
}

/** Names of the blocks used on the sheet and in its groups that its own shelf does not have. */
function usedBlocks(sheet: Sheet): ReadonlySet<string> {
  const names = new Set<string>();
  const look = (blocks: Named<{ readonly is: string }>): void => {
    for (const block of Object.values(blocks)) if (entry(sheet.shelf, block.is) === undefined) names.add(block.is);
  };
  look(sheet.blocks);
  for (const own of Object.values(sheet.shelf)) if (isGroup(own)) look(own.blocks);
  return names;
}

let arithmetic: string | undefined;

/** The hash of every elementary function as typed instructions. */
function arithmeticVersion(): string {
  if (arithmetic === undefined) {
    const all = elementaryNames.flatMap((name) => [`${name}_f32`, `${name}_f64`]);
    const { functions } = elementaryFunctions(all, 0);
    arithmetic = hashOf(functions.map((func) => printFunction(func)).join('\n'));
  }
  return arithmetic;
}

/** The lines that went and the lines that came. */
function difference(before: string, after: string): string {
  const [old, now] = [before, after].map((text) => text.split('\n').filter((line) => line.trim() !== ''));
  const gone = old?.filter((line) => now?.includes(line) !== true).map((line) => `− ${line}`) ?? [];
  const come = now?.filter((line) => old?.includes(line) !== true).map((line) => `+ ${line}`) ?? [];
  return [...gone, ...come].join('\n');
}
