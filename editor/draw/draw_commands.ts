/** Commands that change the drawing: wire, value, name, delete, flip, group, copy. */
import type { Command } from '../commands.ts';
import { endOf, flip, freshName, groundOf, isGroupName, makeGroup, removeBlocks, unwire } from '../document/edits.ts';
import { copySelection, cutSelection, pasteFromClipboard } from '../document/paste.ts';
import { blockOf, say } from '../session.ts';
import type { Workbench } from '../workbench.ts';
import { snap } from './adding.ts';
import { leaveGroup } from './copies.ts';
import { fieldsOf } from './fields.ts';
import { nextFinding, repairHere } from './findings_walk.ts';
import { passageOf } from './fitting.ts';
import { goTo, lookAt } from './going.ts';
import { startWiring } from './wiring.ts';

const NOTHING = 'Nothing is selected.';

/** The blocks that are meant: those selected, or the one the mark is on. */
export function meant({ session }: Workbench): readonly string[] {
  const { selection, mark } = session.getState();
  if (selection.length > 0) return selection;
  return mark?.on === 'block' ? [mark.at] : [];
}

function changeable(workbench: Workbench, otherwise: string = NOTHING): true | string {
  return workbench.document.locked() ?? (meant(workbench).length > 0 || otherwise);
}

function remove(workbench: Workbench, heal: boolean): void {
  const { document, session } = workbench;
  const { scope, mark } = session.getState();
  const names = meant(workbench);
  if (names.length === 0 && mark !== undefined && mark.on !== 'block' && workbench.scene().wires.has(mark.at)) {
    document.change(
      `take off the line to ${mark.at}`,
      `${scope}/${mark.at}`,
      (sheet) => void unwire(sheet, scope, mark.at),
    );
    goTo(workbench, { on: 'input', at: mark.at });
    return;
  }
  const sheet = document.sheet();
  const passage = (name: string) => passageOf(sheet, scope, name);
  const what = names.length === 1 ? names[0] : `${names.length} blocks`;
  document.change(
    `delete ${what}`,
    `${scope}/${names[0]}`,
    (draft) => void removeBlocks(draft, scope, names, heal ? passage : undefined),
  );
  session.setState({ selection: [], mark: undefined, editing: undefined });
  say(session, `Deleted ${what}.`);
}

const canRemove = (workbench: Workbench): true | string => {
  const { mark } = workbench.session.getState();
  const onLine = mark !== undefined && mark.on !== 'block' && workbench.scene().wires.has(mark.at);
  return onLine ? (workbench.document.locked() ?? true) : changeable(workbench);
};

export const DRAW_COMMANDS: readonly Command[] = [
  {
    id: 'block.edit',
    name: 'Go into the card',
    about: 'Edits the first value of the block the mark is on; Tab goes on to the next, Escape out.',
    keys: ['Enter'],
    region: 'paper',
    can: (workbench) => workbench.session.getState().mark?.on === 'block' || 'Only a block has values.',
    run: (workbench) => {
      const { mark } = workbench.session.getState();
      if (mark === undefined) return;
      const first = fieldsOf(workbench, blockOf(mark))[0];
      workbench.session.setState({ selection: [blockOf(mark)], editing: first ?? `name ${blockOf(mark)}` });
    },
  },
  {
    id: 'block.rename',
    name: 'Rename the block',
    about: 'Gives it another name, everywhere it is spoken of.',
    keys: ['F2', 'r'],
    region: 'paper',
    can: (workbench) => changeable(workbench),
    run: (workbench) =>
      workbench.session.setState({ editing: `name ${meant(workbench)[0]}`, selection: meant(workbench).slice(0, 1) }),
  },
  {
    id: 'line.start',
    name: 'Wire',
    about: 'On a port or a block: numbers the ports that fit; type a digit or a name and Enter.',
    keys: ['w'],
    region: 'paper',
    can: ({ document, session }) =>
      document.locked() ?? (session.getState().mark !== undefined || 'Go to a port or a block first.'),
    run: startWiring,
  },
  {
    id: 'edit.delete',
    name: 'Delete',
    about: 'Deletes what is selected; the line through it heals.',
    keys: ['Delete', 'Backspace'],
    region: 'paper',
    can: canRemove,
    run: (workbench) => remove(workbench, true),
  },
  {
    id: 'edit.delete_gap',
    name: 'Delete and leave the gap',
    about: 'Deletes what is selected; what it fed takes nothing then.',
    keys: ['Shift+Delete'],
    region: 'paper',
    can: canRemove,
    run: (workbench) => remove(workbench, false),
  },
  {
    id: 'block.flip',
    name: 'Turn the card',
    about: 'Puts its inputs on its other side, for a way back.',
    keys: ['f'],
    region: 'paper',
    can: (workbench) => changeable(workbench),
    run: (workbench) => {
      const { scope } = workbench.session.getState();
      const names = meant(workbench);
      workbench.document.change(`turn ${names.join(', ')}`, `${scope}/${names[0]}`, (sheet) => {
        for (const name of names) flip(sheet, scope, name);
        return undefined;
      });
    },
  },
  {
    id: 'edit.copy',
    name: 'Copy',
    about: 'Copies what is selected as text: blocks, the lines between them, where they stand.',
    keys: ['Ctrl+C'],
    region: 'paper',
    can: (workbench) => meant(workbench).length > 0 || NOTHING,
    run: copySelection,
  },
  {
    id: 'edit.cut',
    name: 'Cut',
    about: 'Copies what is selected and deletes it.',
    keys: ['Ctrl+X'],
    region: 'paper',
    can: (workbench) => changeable(workbench),
    run: cutSelection,
  },
  {
    id: 'edit.paste',
    name: 'Paste',
    about: 'Puts down copied blocks; a pasted block text goes to your shelf.',
    keys: ['Ctrl+V'],
    region: 'paper',
    can: ({ document }) => document.locked() ?? true,
    run: (workbench) => void pasteFromClipboard(workbench),
  },
  {
    id: 'select.all',
    name: 'Select all',
    about: 'Selects every block on this paper.',
    keys: ['Ctrl+A'],
    region: 'paper',
    can: (workbench) => workbench.scene().cards.size > 0 || 'There is nothing on the paper.',
    run: (workbench) => workbench.session.setState({ selection: [...workbench.scene().cards.keys()] }),
  },
  {
    id: 'select.add',
    name: 'Select one more',
    about: 'Adds the block the mark is on to what is selected, or takes it out.',
    keys: ['Space'],
    region: 'paper',
    can: ({ session }) => session.getState().mark !== undefined || 'Go to a block first.',
    run: ({ session }) =>
      session.setState(({ selection, mark }) => {
        if (mark === undefined) return {};
        const name = blockOf(mark);
        return { selection: selection.includes(name) ? selection.filter((one) => one !== name) : [...selection, name] };
      }),
  },
  {
    id: 'group.make',
    name: 'Make a group',
    about: 'Makes one block of those selected; it stands on your shelf and can be used again.',
    keys: ['g'],
    region: 'paper',
    can: (workbench) => changeable(workbench, 'Select the blocks that are to be one.'),
    run: (workbench) => {
      const { document, session } = workbench;
      const { scope } = session.getState();
      const names = meant(workbench);
      const sheet = document.sheet();
      const name = freshName('group', (one) => one in sheet.shelf || one in (groundOf(sheet, scope)?.blocks ?? {}));
      const cards = names.flatMap((one) => workbench.scene().cards.get(one) ?? []);
      const at = [snap(Math.min(...cards.map(({ x }) => x))), snap(Math.min(...cards.map(({ y }) => y)))] as const;
      document.change(
        `group ${names.join(', ')}`,
        `${scope}/${name}`,
        (draft) => void makeGroup(draft, scope, names, name, at),
      );
      goTo(workbench, { on: 'block', at: name });
    },
  },
  {
    id: 'group.enter',
    name: 'Go into the group',
    about: 'Shows what a group is drawn from.',
    keys: [']'],
    region: 'paper',
    can: (workbench) => enteredGroup(workbench) !== undefined || 'The mark is not on a group.',
    run: (workbench) => {
      const entered = enteredGroup(workbench);
      if (entered === undefined) return;
      const within = `${workbench.scene().path}${entered.block}.`;
      workbench.session.setState({ scope: entered.scope, within, mark: undefined, selection: [] });
      lookAt(workbench, 'all');
    },
  },
  {
    id: 'group.leave',
    name: 'Go out of the group',
    about: 'Shows what the group stands in.',
    keys: ['['],
    region: 'paper',
    can: ({ session }) => session.getState().scope !== '' || 'This is the sheet itself.',
    run: leaveGroup,
  },
  {
    id: 'finding.next',
    name: 'Next finding',
    about: 'Goes to the next thing the checker found.',
    keys: ['F8'],
    inText: true,
    can: ({ checker }) => checker.latest().findings.length > 0 || 'Nothing was found.',
    run: (workbench) => nextFinding(workbench, 1),
  },
  {
    id: 'finding.previous',
    name: 'Finding before',
    about: 'Goes to the finding before.',
    keys: ['Shift+F8'],
    inText: true,
    quiet: true,
    can: ({ checker }) => checker.latest().findings.length > 0 || 'Nothing was found.',
    run: (workbench) => nextFinding(workbench, -1),
  },
  {
    id: 'finding.repair',
    name: 'Mend the finding',
    about: 'Makes the repair of the finding gone to, or of the one at the mark.',
    keys: ['Alt+Enter'],
    inText: true,
    can: (workbench) => repairHere(workbench) !== undefined || 'There is no repair to make here.',
    run: (workbench) => repairHere(workbench)?.(),
  },
  {
    id: 'outline.turn',
    name: 'Outline',
    about: 'The sheet as a tree in signal order, to read and to edit.',
    keys: ['o'],
    region: 'paper',
    can: () => true,
    run: ({ session }) => session.setState(({ outline }) => ({ outline: !outline })),
  },
];

function enteredGroup({ document, session }: Workbench): { scope: string; block: string } | undefined {
  const { mark, scope } = session.getState();
  const block = mark === undefined ? '' : endOf(mark.at).block || mark.at;
  const is = groundOf(document.sheet(), scope)?.blocks[block]?.is;
  return is !== undefined && isGroupName(document.sheet(), is) ? { scope: is, block } : undefined;
}
