/** Commands for block texts of one's own: write one, make a library block one's own, open its text. */
import { library } from '../../blocks/library.ts';
import type { Command } from '../commands.ts';
import { freshName, groundOf } from '../document/edits.ts';
import { blockOf } from '../session.ts';
import type { Workbench } from '../workbench.ts';
import { addFromShelf } from './adding.ts';
import { blankText, renamedText } from './block_words.ts';

/** What the block at the mark is made from. */
function kindAtMark({ document, session }: Workbench): string | undefined {
  const { mark, scope } = session.getState();
  return mark === undefined ? undefined : groundOf(document.sheet(), scope)?.blocks[blockOf(mark)]?.is;
}

function ownText(workbench: Workbench): string | undefined {
  const is = kindAtMark(workbench);
  return is !== undefined && typeof workbench.document.sheet().shelf[is] === 'string' ? is : undefined;
}

const isTaken =
  ({ document }: Workbench) =>
  (name: string) =>
    library.has(name) || Object.hasOwn(document.sheet().shelf, name);

export const TEXT_COMMANDS: readonly Command[] = [
  {
    id: 'text.open',
    name: 'Edit the block’s text',
    about: 'Opens the equations of a block of your own beside the drawing.',
    keys: ['e'],
    region: 'paper',
    can: (workbench) =>
      ownText(workbench) !== undefined || 'The mark is not on a block with a text of your own; make it yours first.',
    run: (workbench) => workbench.session.setState({ text: ownText(workbench) }),
  },
  {
    id: 'text.own',
    name: 'Make the block’s text mine',
    about: 'Copies a library block’s text to your shelf, for this block alone, and opens it.',
    region: 'paper',
    can: (workbench) =>
      workbench.document.locked() ??
      (library.has(kindAtMark(workbench) ?? '') || 'The mark is not on a block of the library.'),
    run: (workbench) => {
      const { document, session } = workbench;
      const { mark, scope } = session.getState();
      const is = kindAtMark(workbench) ?? '';
      const text = library.get(is)?.text;
      if (mark === undefined || text === undefined) return;
      const name = freshName(is, isTaken(workbench));
      document.change(`make the text of ${blockOf(mark)} mine`, `${scope}/${blockOf(mark)}`, (sheet) => {
        sheet.shelf[name] = renamedText(text, name);
        const block = groundOf(sheet, scope)?.blocks[blockOf(mark)];
        if (block !== undefined) block.is = name;
        return undefined;
      });
      session.setState({ text: name });
    },
  },
  {
    id: 'text.new',
    name: 'Write a block',
    about: 'Puts a new block of your own on the paper and opens its text.',
    can: ({ document }) => document.locked() ?? true,
    run: (workbench) => {
      const name = freshName('my_block', isTaken(workbench));
      workbench.document.change(`put ${name} on the shelf`, '', (sheet) => {
        sheet.shelf[name] = blankText(name);
        return undefined;
      });
      addFromShelf(workbench, name);
      workbench.session.setState({ text: name });
    },
  },
];
