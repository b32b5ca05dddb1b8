/** Commands of the export: download the C, compare the bits of a run. */
import type { Command } from '../commands.ts';
import { say } from '../session.ts';
import type { Workbench } from '../workbench.ts';

const hasRuns = ({ document }: Workbench): true | string =>
  Object.keys(document.sheet().runs).length > 0 || 'The sheet has no run to replay.';

export const SHIP_COMMANDS: readonly Command[] = [
  {
    id: 'ship.go',
    name: 'Go to the export',
    about: 'Turns to Ship, where the C is downloaded beside its cautions.',
    can: () => true,
    run: ({ session }) => session.setState({ view: 'ship' }),
  },
  {
    id: 'ship.prove',
    name: 'Compare the bits of a run',
    about: 'Replays the chosen run through the exported program on both engines of the browser.',
    can: hasRuns,
    run: (workbench) => {
      void import('./export.ts').then(async ({ exported, prove, makeC }) => {
        await makeC(workbench);
        const run = exported.getState().run ?? Object.keys(workbench.document.sheet().runs)[0];
        const proof = run === undefined ? undefined : await prove(workbench, run);
        if (proof !== undefined)
          say(
            workbench.session,
            `${proof.run}: ${proof.same ? 'the same bits' : 'the bits differ'} at ${proof.ticks} ticks.`,
          );
      });
    },
  },
];
