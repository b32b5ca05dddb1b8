/** Commands that move: the mark along lines and between cards, cards by the grid, the view. */

import type { Point } from '../../compiler/sheet/sheet.ts';
import type { Command } from '../commands.ts';
import { move } from '../document/edits.ts';
import { say } from '../session.ts';
import type { Workbench } from '../workbench.ts';
import { meant } from './draw_commands.ts';
import { goTo, lookAt, nearestCard, spoken, stepFrom, type Way } from './going.ts';
import { GRID } from './scene.ts';

const WAYS: readonly { way: Way; key: string; name: string; by: Point }[] = [
  { way: 'left', key: 'ArrowLeft', name: 'left', by: [-1, 0] },
  { way: 'right', key: 'ArrowRight', name: 'right', by: [1, 0] },
  { way: 'up', key: 'ArrowUp', name: 'up', by: [0, -1] },
  { way: 'down', key: 'ArrowDown', name: 'down', by: [0, 1] },
];

const drawn = (workbench: Workbench): true | string =>
  workbench.scene().cards.size > 0 || 'There is nothing on the paper yet.';

function step(workbench: Workbench, way: Way, by: Point, fine: boolean): void {
  const { mode, mark } = workbench.session.getState();
  if (mode.is === 'carrying') {
    carry(workbench, by, fine);
    return;
  }
  const next = stepFrom(workbench.scene(), mark, way);
  if (next === undefined) return;
  if (next.at === mark?.at && next.on === mark.on)
    say(
      workbench.session,
      `Nothing ${way === 'left' || way === 'up' ? 'before' : 'after'} it. ${spoken(workbench.scene(), next)}`,
    );
  else goTo(workbench, next);
}

/** Carries cards a step of the grid further; nothing is written until they are put down. */
function carry(workbench: Workbench, [dx, dy]: Point, fine: boolean): void {
  const { session } = workbench;
  const { mode } = session.getState();
  if (mode.is !== 'carrying') return;
  const pace = fine ? 1 : GRID;
  const { cards } = workbench.scene();
  const carried = mode.names.flatMap((name) => {
    const placed = cards.get(name);
    return placed === undefined ? [] : [[name, [placed.x + dx * pace, placed.y + dy * pace] as Point] as const];
  });
  session.setState({ astray: Object.fromEntries(carried) });
}

/** Puts carried cards down, as one step; or back where they stood. */
export function putDown(workbench: Workbench, keep: boolean): void {
  const { session } = workbench;
  const { astray, scope } = session.getState();
  session.setState({ mode: { is: 'idle' }, astray: {} });
  if (keep) moveCards(workbench, astray, scope);
  say(session, keep ? 'Put down.' : 'Put back.');
}

/** Moves cards to where they were dragged or carried, as one step. */
export function moveCards({ document }: Workbench, to: Readonly<Record<string, Point>>, scope: string): void {
  const names = Object.keys(to);
  if (names.length === 0) return;
  const what = names.length === 1 ? names[0] : `${names.length} blocks`;
  document.change(`move ${what}`, `${scope}/${names[0]}`, (sheet) => void move(sheet, scope, to));
}

async function tidy(workbench: Workbench): Promise<void> {
  const scene = workbench.scene();
  say(workbench.session, 'Placing the cards …');
  try {
    const { tidyPlaces } = await import('./tidy.ts');
    const places = await tidyPlaces(scene);
    workbench.document.change('tidy the sheet', `${scene.scope}/`, (sheet) => void move(sheet, scene.scope, places));
    lookAt(workbench, 'all');
    say(workbench.session, 'Placed.');
  } catch (error) {
    say(
      workbench.session,
      `The cards stay where they are: ${error instanceof Error ? error.message : 'no reason given'}.`,
    );
  }
}

export const MOVING_COMMANDS: readonly Command[] = [
  ...WAYS.flatMap(({ way, key, name, by }): Command[] => [
    {
      id: `go.${way}`,
      name: `Go ${name}`,
      about: 'Along lines, between ports and branches.',
      keys: [key],
      region: 'paper',
      quiet: true,
      can: drawn,
      run: (workbench) => step(workbench, way, by, false),
    },
    {
      id: `go.${way}_card`,
      name: `Go to the nearest card ${name}`,
      about: 'The nearest card that way, wired or not.',
      keys: [`Ctrl+${key}`],
      region: 'paper',
      quiet: true,
      can: drawn,
      run: (workbench) => {
        const next = nearestCard(workbench.scene(), workbench.session.getState().mark, way);
        if (next !== undefined) goTo(workbench, next);
      },
    },
    {
      id: `select.${way}`,
      name: `Extend what is selected ${name}`,
      about: 'Goes to the nearest card that way and selects it too.',
      keys: [`Shift+${key}`],
      region: 'paper',
      quiet: true,
      can: drawn,
      run: (workbench) => {
        if (workbench.session.getState().mode.is === 'carrying') {
          carry(workbench, by, true);
          return;
        }
        const next = nearestCard(workbench.scene(), workbench.session.getState().mark, way);
        if (next === undefined) return;
        goTo(workbench, next, false);
        workbench.session.setState(({ selection }) => ({ selection: [...new Set([...selection, next.at])] }));
      },
    },
  ]),
  {
    id: 'block.carry',
    name: 'Move by keys',
    about: 'Arrows carry what is selected by the grid, with Shift finely; Enter puts it down, Escape puts it back.',
    keys: ['m'],
    region: 'paper',
    can: (workbench) => workbench.document.locked() ?? (meant(workbench).length > 0 || 'Select a block first.'),
    run: (workbench) => {
      const names = meant(workbench);
      workbench.session.setState({ mode: { is: 'carrying', names } });
      say(workbench.session, `Carrying ${names.join(', ')}: arrows move, Enter puts down, Escape puts back.`);
    },
  },
  {
    id: 'paper.out',
    name: 'Let go',
    about: 'Leaves what is being done, then what is selected.',
    keys: ['Escape'],
    region: 'paper',
    quiet: true,
    can: () => true,
    run: (workbench) => {
      const { session } = workbench;
      if (session.getState().mode.is === 'carrying') putDown(workbench, false);
      else session.setState({ selection: [], shelf: undefined });
    },
  },
  {
    id: 'sheet.tidy',
    name: 'Tidy',
    about: 'Places all cards anew in signal order, the plant below; one step, so that undo brings them back.',
    region: 'paper',
    can: (workbench) => workbench.document.locked() ?? drawn(workbench),
    run: (workbench) => void tidy(workbench),
  },
  {
    id: 'look.all',
    name: 'See the whole sheet',
    about: 'Zooms so that every card is in view.',
    keys: ['0'],
    region: 'paper',
    can: drawn,
    run: (workbench) => lookAt(workbench, 'all'),
  },
];
