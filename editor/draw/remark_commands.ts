/** Commands for what stands beside the blocks: notes, frames, held and torn lines. */

import type { Point } from '../../compiler/sheet/sheet.ts';
import type { Command } from '../commands.ts';
import { addFrame, addNote, holdLine, turnTap } from '../document/remarks.ts';
import type { Workbench } from '../workbench.ts';
import { snap } from './adding.ts';
import { meant } from './draw_commands.ts';
import { areaOf } from './going.ts';
import { areaOfCard, united } from './scene.ts';

const FRAME_ROOM = 40;

/** The input fed by the line the mark is on, where the line is one of the sheet's own. */
function markedLine({ session }: Workbench): string | undefined {
  const { mark, scope } = session.getState();
  return mark?.on === 'line' && scope === '' ? mark.at : undefined;
}

const onLine = (workbench: Workbench): true | string =>
  workbench.document.locked() ?? (markedLine(workbench) !== undefined || 'Go to a line of the sheet first.');

export const REMARK_COMMANDS: readonly Command[] = [
  {
    id: 'note.add',
    name: 'Write a note',
    about: 'Puts a note beside what the mark is on; an empty note goes away.',
    keys: ['n'],
    region: 'paper',
    can: ({ document }) => document.locked() ?? true,
    run: (workbench) => {
      const { document, session } = workbench;
      const { mark, scope, viewport } = session.getState();
      const area = mark === undefined ? undefined : areaOf(workbench.scene(), mark);
      const at: Point =
        area === undefined
          ? [snap((200 - viewport.x) / viewport.zoom), snap((200 - viewport.y) / viewport.zoom)]
          : [snap(area.x), snap(area.y + area.height + 20)];
      let name = '';
      document.change('put a note down', `${scope}/`, (sheet) => {
        name = addNote(sheet, scope, at, 'a note');
        return undefined;
      });
      session.setState({ editing: `note ${name}` });
    },
  },
  {
    id: 'frame.add',
    name: 'Frame what is selected',
    about: 'Draws a frame with a title round the selected cards; without a title it goes away.',
    region: 'paper',
    can: (workbench) => workbench.document.locked() ?? (meant(workbench).length > 0 || 'Select the cards first.'),
    run: (workbench) => {
      const { document, session } = workbench;
      const { scope } = session.getState();
      const { cards } = workbench.scene();
      const area = united(
        meant(workbench)
          .flatMap((name) => cards.get(name) ?? [])
          .map(areaOfCard),
      );
      if (area === undefined) return;
      let name = '';
      document.change('frame cards', `${scope}/`, (sheet) => {
        const at: Point = [area.x - FRAME_ROOM, area.y - FRAME_ROOM];
        name = addFrame(sheet, scope, at, [area.width + 2 * FRAME_ROOM, area.height + 2 * FRAME_ROOM]);
        return undefined;
      });
      session.setState({ editing: `frame ${name}` });
    },
  },
  {
    id: 'line.tear',
    name: 'Draw the line as two ends',
    about: 'Draws a long line as two torn ends, each with the zone of the other; again draws it whole.',
    keys: ['t'],
    region: 'paper',
    can: onLine,
    run: (workbench) => {
      const input = markedLine(workbench);
      if (input !== undefined)
        workbench.document.change(
          `tear or mend the line to ${input}`,
          `/${input}`,
          (sheet) => void turnTap(sheet, input),
        );
    },
  },
  {
    id: 'line.free',
    name: 'Let the line find its own way',
    about: 'Lets go of the segments a line was held to.',
    region: 'paper',
    can: onLine,
    run: (workbench) => {
      const input = markedLine(workbench);
      if (input !== undefined)
        workbench.document.change(
          `let the line to ${input} go`,
          `/${input}`,
          (sheet) => void holdLine(sheet, input, []),
        );
    },
  },
];
