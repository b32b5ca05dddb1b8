/** Commands for files: new, open, save, download. */
import type { Command } from '../commands.ts';
import { chooseFile, download, newSheet, save } from './files.ts';

const always = (): true => true;

export const FILE_COMMANDS: readonly Command[] = [
  {
    id: 'file.new',
    name: 'New sheet',
    about: 'Starts an empty sheet; the present one stays kept in this browser.',
    can: always,
    run: (workbench) => void newSheet(workbench),
  },
  {
    id: 'file.open',
    name: 'Open a file',
    about: 'Opens a sheet from a file; the present one stays kept in this browser.',
    keys: ['Ctrl+O'],
    inText: true,
    can: always,
    run: (workbench) => void chooseFile(workbench),
  },
  {
    id: 'file.save',
    name: 'Save',
    about: 'Writes the sheet to its file, or asks where to write it.',
    keys: ['Ctrl+S'],
    inText: true,
    can: always,
    run: (workbench) => void save(workbench),
  },
  {
    id: 'file.download',
    name: 'Download the sheet',
    about: 'Hands the sheet to the browser as a file.',
    keys: ['Ctrl+Shift+S'],
    inText: true,
    can: always,
    run: download,
  },
  {
    id: 'file.rename',
    name: 'Rename the file',
    about: 'Gives the sheet another file name; the emitted C takes it too.',
    can: always,
    run: ({ session }) => session.setState({ editing: 'file' }),
  },
];
