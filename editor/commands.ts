/** The one command table: keys, menus, find and help read this and nothing else. */

import { FILE_COMMANDS } from './document/file_commands.ts';
import { DRAW_COMMANDS } from './draw/draw_commands.ts';
import { MOVING_COMMANDS } from './draw/moving_commands.ts';
import { REMARK_COMMANDS } from './draw/remark_commands.ts';
import { TEXT_COMMANDS } from './draw/text_commands.ts';
import { WHY_COMMANDS } from './draw/why_commands.ts';
import { moveFocus } from './focus.ts';
import { RUN_COMMANDS } from './run/run_commands.ts';
import { type Region, say, VIEWS, type View } from './session.ts';
import { SHIP_COMMANDS } from './ship/ship_commands.ts';
import { VIEW_WORDS } from './view_words.ts';
import type { Workbench } from './workbench.ts';

export interface Command {
  /** `region.verb`, never shown. */
  readonly id: string;
  /** As find and menus show it. */
  readonly name: string;
  /** One line of help: what it does, and when one wants it. */
  readonly about: string;
  /** `Ctrl+Shift+Z`, `w`, `ArrowLeft`; the first is the one shown. */
  readonly keys?: readonly string[];
  /** Where its keys act; everywhere but in text when unsaid. */
  readonly region?: Region;
  /** Its keys act also while text is typed. */
  readonly inText?: true;
  /** Not worth a line in find: arrows and the like. */
  readonly quiet?: true;
  /** True, or a sentence that says why not now. */
  can(workbench: Workbench): true | string;
  run(workbench: Workbench): void;
}

const always = (): true => true;

const view = (which: View): Command[] => {
  const key = String(VIEWS.indexOf(which) + 1);
  const { name, about } = VIEW_WORDS[which];
  return [
    {
      id: `view.${which}`,
      name: `Show ${name}`,
      about: `Turns to ${name}: ${about}.`,
      keys: [key],
      can: always,
      run: ({ session }) =>
        session.setState(({ under }) => ({ view: which, under: under === which ? undefined : under })),
    },
    {
      id: `view.${which}_under`,
      name: `Show ${name} under the present view`,
      about: `Puts ${name} under the present view, half and half; again takes it away.`,
      keys: [`Shift+${key}`],
      can: ({ session }) => session.getState().view !== which || `${name} is the view shown already.`,
      run: ({ session }) => session.setState(({ under }) => ({ under: under === which ? undefined : which })),
    },
  ];
};

const GENERAL: readonly Command[] = [
  ...VIEWS.flatMap(view),
  {
    id: 'region.next',
    name: 'Go to the next region',
    about: 'Goes round bar, shelf line, paper, margin and rail.',
    keys: ['F6'],
    inText: true,
    quiet: true,
    can: always,
    run: () => moveFocus(1),
  },
  {
    id: 'region.previous',
    name: 'Go to the region before',
    about: 'Goes round the regions the other way.',
    keys: ['Shift+F6'],
    inText: true,
    quiet: true,
    can: always,
    run: () => moveFocus(-1),
  },
  {
    id: 'find.open',
    name: 'Find',
    about: 'One search for blocks to add, things on the sheet, commands, settings and help.',
    keys: ['/'],
    can: always,
    run: ({ session }) => session.setState({ find: { text: '' } }),
  },
  {
    id: 'history.undo',
    name: 'Undo',
    about: 'Takes the last step back and shows where it was.',
    keys: ['Ctrl+Z'],
    can: ({ document }) => document.locked() ?? (document.state().past.length > 0 || 'Nothing has been done yet.'),
    run: (workbench) => goBack(workbench, 'undo'),
  },
  {
    id: 'history.redo',
    name: 'Redo',
    about: 'Does the step again that was taken back last.',
    keys: ['Ctrl+Shift+Z', 'Ctrl+Y'],
    can: ({ document }) => document.locked() ?? (document.state().future.length > 0 || 'Nothing has been taken back.'),
    run: (workbench) => goBack(workbench, 'redo'),
  },
  {
    id: 'help.open',
    name: 'Help',
    about: 'How things are done by pointer and by keys, beside the drawing.',
    keys: ['F1'],
    inText: true,
    can: always,
    run: ({ session }) => session.setState(({ help }) => ({ help: !help })),
  },
  {
    id: 'theme.turn',
    name: 'Light or dark',
    about: 'Turns the paper from warm white to ink blue, or back.',
    can: always,
    run: ({ session }) => {
      const dark = matchMedia('(prefers-color-scheme: dark)').matches;
      session.setState(({ theme }) => ({ theme: (theme ?? (dark ? 'dark' : 'light')) === 'dark' ? 'light' : 'dark' }));
    },
  },
];

export const COMMANDS: readonly Command[] = [
  ...GENERAL,
  ...FILE_COMMANDS,
  ...DRAW_COMMANDS,
  ...MOVING_COMMANDS,
  ...REMARK_COMMANDS,
  ...TEXT_COMMANDS,
  ...RUN_COMMANDS,
  ...WHY_COMMANDS,
  ...SHIP_COMMANDS,
];

const byId = new Map(COMMANDS.map((command) => [command.id, command]));

/** Runs a command if it can be run now; otherwise says why not. */
export function runCommand(workbench: Workbench, id: string): void {
  const command = byId.get(id);
  if (command === undefined) throw new Error(`There is no command "${id}".`);
  const can = command.can(workbench);
  if (can === true) command.run(workbench);
  else say(workbench.session, can);
}

export function commandOf(id: string): Command | undefined {
  return byId.get(id);
}

/** Takes a step back, or does it again: goes to its place first, then changes it and says so. */
function goBack(workbench: Workbench, way: 'undo' | 'redo'): void {
  const { document, session } = workbench;
  const entry = document.state()[way === 'undo' ? 'past' : 'future'].at(-1);
  if (entry === undefined) return;
  const slash = entry.place.indexOf('/');
  const scope = slash < 0 ? '' : entry.place.slice(0, slash);
  if (session.getState().scope !== scope) session.setState({ scope, selection: [], mark: undefined });
  const place = VIEWS.find((one) => one === entry.place) ?? 'draw';
  if (session.getState().view !== place && session.getState().under !== place) session.setState({ view: place });
  document[way]();
  session.setState({ flash: entry.place.slice(slash + 1) });
  say(session, `${way === 'undo' ? 'Undone' : 'Done again'}: ${entry.label}.`);
}
