/** Shape: says what answers for a loop today, in the other views and on the command line. */
import { runCommand } from '../commands.ts';
import { useKeeping, useWorkbench } from '../workbench.ts';
import './shape.css';

export function Shape() {
  const workbench = useWorkbench();
  const { kept } = useKeeping();
  const file = `${kept?.name ?? 'sheet'}.sheet.json`;
  return (
    <div className="shape">
      <h2>How a loop behaves</h2>
      <p>No plots are drawn here yet. What answers for a loop:</p>
      <dl>
        <div>
          <dt>
            <button type="button" className="written" onClick={() => runCommand(workbench, 'view.run')}>
              Run <kbd>3</kbd>
            </button>
          </dt>
          <dd>Put in a nudge, change a gain while it goes, and see in the charts how the loop settles or rings.</dd>
        </div>
        <div>
          <dt>
            <code>npx loopwright margins {file}</code>
          </dt>
          <dd>
            Finds its loops and says how far each is from the edge of stability, with timing in it. Add{' '}
            <code>--hold block.port=0</code> for the point of rest that is meant.
          </dd>
        </div>
        <div>
          <dt>
            <code>npx loopwright bench {file}</code>
          </dt>
          <dd>Runs every run of the sheet and judges what it expects, as “stays below 2 deg from 5 s on”.</dd>
        </div>
        <div>
          <dt>
            <code>npx loopwright run {file} --set block.gain=0.3 --record block.port --csv response.csv</code>
          </dt>
          <dd>Runs it with another gain and writes the response as a table, for any program that analyses tables.</dd>
        </div>
      </dl>
    </div>
  );
}
