/** Commands that explain: why the thing at the mark is as it is, and the walk through a tick block by block. */
import type { Command } from '../commands.ts';
import { say } from '../session.ts';
import { sentenceOf } from '../work/readings.ts';
import type { Workbench } from '../workbench.ts';
import { goToPath } from './copies.ts';
import { explainedBlock } from './why.tsx';

/** The block at the mark by its dotted path. */
function pathHere(workbench: Workbench): string | undefined {
  const { mark } = workbench.session.getState();
  const scene = workbench.scene();
  const name = mark === undefined ? undefined : explainedBlock(scene, mark);
  return name === undefined ? undefined : `${scene.path}${name}`;
}

/** The present values of a block's ports in words. */
function valuesSaid(workbench: Workbench, path: string): string {
  const { bench, document } = workbench;
  const { show } = document.sheet().desk;
  const name = path.slice(path.lastIndexOf('.') + 1);
  const ports = workbench.scene().cards.get(name)?.card.ports ?? [];
  return ports
    .map(
      (port) => `${port.name} ${sentenceOf(bench.readings.now(`${path}.${port.name}`), show[`${path}.${port.name}`])}`,
    )
    .join(', ');
}

/** Milliseconds until the values of what is newly on screen are there. */
const VALUES_COME = 160;

function sayLater({ session }: Workbench, words: () => string): void {
  setTimeout(() => say(session, words()), VALUES_COME);
}

/** Goes to the block that runs after the one at the mark, or before it, within the tick looked at; beyond the last to the next tick. */
function walk(workbench: Workbench, by: 1 | -1): void {
  const { bench, session } = workbench;
  const { facts } = bench.state();
  const { tick, head } = bench.now();
  if (facts === undefined || tick < 0) return;
  const orderAt = (at: number) =>
    facts.order.filter(({ every, phase }) => at >= phase && (at - phase) % every === 0).map(({ path }) => path);
  const order = orderAt(tick);
  const here = order.indexOf(pathHere(workbench) ?? '');
  const to = here < 0 ? (by === 1 ? 0 : order.length - 1) : here + by;
  let [next, at] = [order[to], tick];
  if (next === undefined) {
    at = tick + by;
    if (at < 0) {
      say(session, 'This is the first block of the first tick.');
      return;
    }
    if (at >= head) bench.step(1);
    else bench.seek(at);
    next = by === 1 ? orderAt(at)[0] : orderAt(at).at(-1);
  } else bench.pause();
  if (next === undefined || !goToPath(workbench, next)) return;
  session.setState({ why: true });
  const path = next;
  sayLater(workbench, () => `Tick ${at}, ${path}: ${valuesSaid(workbench, path)}.`);
}

const hasRun = ({ bench }: Workbench): true | string =>
  bench.now().head > 0 || 'Nothing has run yet: Ctrl+Enter runs the sheet.';

export const WHY_COMMANDS: readonly Command[] = [
  {
    id: 'why.turn',
    name: 'Explain what is selected',
    about:
      'Shows in the margin the equations of the block at the mark, or of the one a line comes from, with their values.',
    keys: ['?'],
    can: (workbench) => pathHere(workbench) !== undefined || 'Select a block, a port or a line first.',
    run: (workbench) => {
      const path = pathHere(workbench);
      const why = !workbench.session.getState().why;
      workbench.session.setState({ why });
      const name = path?.slice(path.lastIndexOf('.') + 1) ?? '';
      const law = workbench.scene().cards.get(name)?.card.spoken ?? '';
      if (why && path !== undefined)
        sayLater(workbench, () => [name, law, valuesSaid(workbench, path)].filter((part) => part !== '').join('; '));
    },
  },
  {
    id: 'walk.on',
    name: 'One block on',
    about: 'Walks through the tick looked at in the order its blocks run, explaining each with its values.',
    keys: ['Shift+.'],
    can: hasRun,
    run: (workbench) => walk(workbench, 1),
  },
  {
    id: 'walk.back',
    name: 'One block back',
    about: 'The block that ran before the one at the mark, within the tick looked at.',
    keys: ['Shift+,'],
    can: hasRun,
    run: (workbench) => walk(workbench, -1),
  },
];
