/** Beats: a row a block, a column a tick; filled where it runs, with the load of each tick below. */
import type { Mark } from '../session.ts';
import { useSession, useWorkbench } from '../workbench.ts';
import type { Beat, Made } from './ship.worker.ts';

/** At most so many ticks are shown; a longer period is said in words. */
const SHOWN = 12;

export function Beats({ made }: { readonly made: Made }) {
  const { session } = useWorkbench();
  const mark = useSession((state) => state.mark);
  const lit = blockOf(mark);
  const ticks = Math.min(SHOWN, Math.max(made.period, 4));
  const loads = Array.from({ length: ticks }, (_, tick) =>
    made.beats.reduce((sum, beat) => sum + (runsOn(beat, tick) ? beat.operations : 0), 0),
  );
  const most = Math.max(1, ...loads);
  return (
    <section className="beats" aria-label="Beats">
      <h2>Beats</h2>
      <div className="beats_scroll">
        <table>
          <thead>
            <tr>
              <th scope="col">tick</th>
              {loads.map((_, tick) => (
                // biome-ignore lint/suspicious/noArrayIndexKey: columns are the ticks themselves
                <th key={tick} scope="col">
                  {tick}
                </th>
              ))}
            </tr>
          </thead>
          <tbody>
            {made.beats.map((beat) => (
              <tr key={beat.path} className={beat.path === lit ? 'lit' : undefined}>
                <th scope="row">
                  <button
                    type="button"
                    className="written"
                    onClick={() => session.setState({ mark: markOf(beat.path) })}
                  >
                    {beat.path}
                  </button>
                </th>
                {loads.map((_, tick) => (
                  // biome-ignore lint/suspicious/noArrayIndexKey: columns are the ticks themselves
                  <td key={tick}>
                    {runsOn(beat, tick) ? (
                      <i className="beat" role="img" aria-label="runs" />
                    ) : (
                      <i className="rest" aria-hidden />
                    )}
                  </td>
                ))}
              </tr>
            ))}
          </tbody>
          <tfoot>
            <tr>
              <th scope="row">operations</th>
              {loads.map((load, tick) => (
                // biome-ignore lint/suspicious/noArrayIndexKey: columns are the ticks themselves
                <td key={tick} title={`${load} operations`}>
                  <i
                    className="load"
                    style={{ height: `${Math.round((load / most) * 22)}px` }}
                    role="img"
                    aria-label={String(load)}
                  />
                </td>
              ))}
            </tr>
          </tfoot>
        </table>
      </div>
      <p className="quiet">
        A tick is {made.tick * 1000} ms; everything repeats after {made.period === 1 ? 'one' : made.period}. The busiest
        tick does {most} operations.
      </p>
    </section>
  );
}

function runsOn({ every, phase }: Beat, tick: number): boolean {
  return tick % every === phase;
}

/** The block a mark is on, by its dotted path from the sheet. */
export function blockOf(mark: Mark | undefined): string | undefined {
  if (mark === undefined) return undefined;
  return mark.on === 'block' ? mark.at : mark.at.slice(0, mark.at.lastIndexOf('.'));
}

/** The mark for a block, or for the group on the sheet that it stands in. */
export function markOf(path: string): Mark {
  return { on: 'block', at: path.split('.')[0] ?? path };
}

/** Whether a block stands at a path or inside it. */
export function isWithin(path: string | undefined, at: string | undefined): boolean {
  return path !== undefined && at !== undefined && (path === at || path.startsWith(`${at}.`));
}
