/** The library as data: every block text by its name, with the shelf (the folder) it stands on. */

export interface LibraryBlock {
  readonly text: string;
  /** `drive`, `sense`, `clean`, `compensate`, `combine`, `limit`, `decide`, `guard`, `actuate` or `plant`. */
  readonly shelf: string;
}

const files = import.meta.glob<string>('./*/*.block', { query: '?raw', import: 'default', eager: true });

export const library: ReadonlyMap<string, LibraryBlock> = new Map(
  Object.entries(files)
    .map(([path, text]): [string, LibraryBlock] => {
      const [, shelf = '', file = ''] = path.split('/');
      return [file.replace(/\.block$/, ''), { text, shelf }];
    })
    .sort(([a], [b]) => (a < b ? -1 : 1)),
);
