/** The library as data: every block text by its name, with the shelf (the folder) it stands on. */

export interface LibraryBlock {
  readonly text: string;
  /** `drive`, `sense`, `clean`, `compensate`, `combine`, `limit`, `decide`, `guard`, `actuate` or `plant`. */
  readonly shelf: string;
  /** Texts it had before, by the hash that sheets of that time keep (`compiler/review/versions.ts`). */
  readonly former?: ReadonlyMap<string, string>;
}

const files = import.meta.glob<string>('./*/*.block', { query: '?raw', import: 'default', eager: true });
/** `former/NAME/HASH.block`: what a published block said before it was changed. */
const formerFiles = import.meta.glob<string>('./former/*/*.block', { query: '?raw', import: 'default', eager: true });

const former = new Map<string, Map<string, string>>();
for (const [path, text] of Object.entries(formerFiles)) {
  const [, , name = '', file = ''] = path.split('/');
  const known = former.get(name) ?? new Map<string, string>();
  former.set(name, known.set(file.replace(/\.block$/, ''), text));
}

export const library: ReadonlyMap<string, LibraryBlock> = new Map(
  Object.entries(files)
    .map(([path, text]): [string, LibraryBlock] => {
      const [, shelf = '', file = ''] = path.split('/');
      const name = file.replace(/\.block$/, '');
      const before = former.get(name);
      return [name, { text, shelf, ...(before === undefined ? {} : { former: before }) }];
    })
    .sort(([a], [b]) => (a < b ? -1 : 1)),
);
