/** Files beside the sheet, such as recorded tables: kept with it in this browser, known to the compiler by their names. */

/** Texts by file name. */
export type Beside = Readonly<Record<string, string>>;

export interface BesideStore {
  files(): Beside;
  subscribe(listener: () => void): () => void;
  put(name: string, text: string): void;
  remove(name: string): void;
  /** Those of another sheet. */
  replace(files: Beside): void;
}

/** `keep` hears of every file that is put (with its text) or taken away (without). */
export function createBeside(keep: (name: string, text: string | undefined) => void): BesideStore {
  let files: Beside = {};
  const listeners = new Set<() => void>();
  const turn = (next: Beside) => {
    files = next;
    for (const listener of listeners) listener();
  };
  return {
    files: () => files,
    subscribe(listener) {
      listeners.add(listener);
      return () => listeners.delete(listener);
    },
    put(name, text) {
      keep(name, text);
      turn({ ...files, [name]: text });
    },
    remove(name) {
      keep(name, undefined);
      turn(Object.fromEntries(Object.entries(files).filter(([one]) => one !== name)));
    },
    replace: turn,
  };
}

/** How the compiler asks for a file beside the sheet: by its name, with or without `./`. */
export function readerOf(files: Beside): (name: string) => string | undefined {
  return (name) => {
    const plain = name.replace(/^\.\//, '');
    return Object.hasOwn(files, plain) ? files[plain] : undefined;
  };
}
