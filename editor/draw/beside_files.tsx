/** The files beside the sheet, in the margin: what is in each, a block that plays it back, and a way to take it away. */

import { library } from '../../blocks/library.ts';
import { readCsv } from '../../compiler/sheet/csv.ts';
import type { Sheet } from '../../compiler/sheet/sheet.ts';
import { useBeside, useSheet, useWorkbench, type Workbench } from '../workbench.ts';
import { addFromShelf } from './adding.ts';
import { textOf } from './shelf_items.ts';

export function BesideFiles() {
  const workbench = useWorkbench();
  const sheet = useSheet();
  const files = Object.entries(useBeside());
  if (files.length === 0) return null;
  const player = playerOf(sheet);
  return (
    <section className="beside">
      <h2>Beside the sheet</h2>
      <dl>
        {files.map(([name, text]) => (
          <div key={name}>
            <dt>
              {name}
              <button type="button" aria-label={`Take ${name} away`} onClick={() => workbench.beside.remove(name)}>
                ×
              </button>
            </dt>
            <dd>
              {headings(text).join(', ')}{' '}
              {player !== undefined && (
                <button type="button" className="written" onClick={() => playBack(workbench, player, name, text)}>
                  Play it back
                </button>
              )}
            </dd>
          </div>
        ))}
      </dl>
    </section>
  );
}

/** The columns of a table after its time, by the file's first two lines. */
function headings(text: string): string[] {
  const { value } = readCsv(text.split(/\r?\n/, 2).join('\n'), '');
  return value === undefined ? [] : [...value.columns.keys()].slice(1);
}

interface Player {
  readonly is: string;
  readonly file: string;
  readonly columns: string;
}

/** A block of the library that takes a file and a list of its columns. */
function playerOf(sheet: Sheet): Player | undefined {
  for (const is of library.keys()) {
    const builds = textOf(sheet, is)?.builds ?? [];
    const file = builds.find((one) => one.type === 'text')?.name;
    const columns = builds.find((one) => one.type === 'texts')?.name;
    if (file !== undefined && columns !== undefined) return { is, file, columns };
  }
  return undefined;
}

function playBack(workbench: Workbench, { is, file, columns }: Player, name: string, text: string): void {
  addFromShelf(workbench, is, {}, { [file]: name, [columns]: headings(text) });
}
