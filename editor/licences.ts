/** Gathers, while the editor is built, the licence of every package that ends up in the page, its threads and its fonts. */
import { existsSync, readdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import type { Plugin } from 'vite';

/** As `licences.json` beside the page has it. */
export interface Licence {
  readonly name: string;
  readonly version: string;
  /** As its package says it: an SPDX expression. */
  readonly licence: string;
  readonly text: string;
}

/** A plugin for the page, and one for each of its threads; the page's writes what all have seen. */
export function licencesOf(fonts: readonly Licence[]): { readonly page: () => Plugin; readonly thread: () => Plugin } {
  const folders = new Set<string>();
  const look = (bundle: object) => {
    for (const part of Object.values(bundle)) for (const id of idsOf(part)) add(folders, id);
  };
  return {
    thread: () => ({ name: 'licences-of-a-thread', generateBundle: (_, bundle) => look(bundle) }),
    page: () => ({
      name: 'licences',
      load(id) {
        // Packages used as files, by their address, are in no chunk.
        if (/\?(?:[^?]*&)?(?:url|worker)\b/.test(id)) add(folders, id);
        return undefined;
      },
      generateBundle(_, bundle) {
        look(bundle);
        const packages = [...folders].map(licenceIn).sort((a, b) => (a.name < b.name ? -1 : 1));
        const source = JSON.stringify([...packages, ...fonts]);
        this.emitFile({ type: 'asset', fileName: 'licences.json', source });
      },
    }),
  };
}

function idsOf(part: unknown): readonly string[] {
  return typeof part === 'object' && part !== null && 'moduleIds' in part && Array.isArray(part.moduleIds)
    ? part.moduleIds.filter((id): id is string => typeof id === 'string')
    : [];
}

/** The folder of the package a module stands in. */
function add(folders: Set<string>, id: string): void {
  const folder = /^(.*\/node_modules\/(?:@[^/]+\/)?[^/]+)\//.exec(id.replaceAll('\\', '/').replace(/^\0+/, ''))?.[1];
  if (folder !== undefined && existsSync(join(folder, 'package.json'))) folders.add(folder);
}

function licenceIn(folder: string): Licence {
  const { name, version, license } = JSON.parse(readFileSync(join(folder, 'package.json'), 'utf8')) as {
    name: string;
    version: string;
    license?: string;
  };
  // What a package holds of others is named in its notices.
  const files = readdirSync(folder).filter((one) =>
    /^(licen[cs]e|copying|notice|third.?party.?notices)(\.|-|$)/i.test(one),
  );
  const text = files.map((file) => readFileSync(join(folder, file), 'utf8').trim()).join('\n\n');
  return { name, version, licence: license ?? 'see its text', text };
}
