/** Commands for files: new, open, save, download. */
import type { Command } from '../commands.ts';
import { downloadPng, downloadSvg } from '../parts/picture_file.ts';
import { chooseFile, copyLink, download, newSheet, save } from './files.ts';

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
    about:
      'Opens a sheet from a file, or puts a CSV table beside the present one; that one stays kept in this browser.',
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
    id: 'file.link',
    name: 'Copy a link to the sheet',
    about: 'The whole sheet in a link, for a small one; no server sees it.',
    can: always,
    run: (workbench) => void copyLink(workbench),
  },
  {
    id: 'picture.svg',
    name: 'Download a picture',
    about: 'This paper as SVG, with its frame and title block; needs no font.',
    can: always,
    run: downloadSvg,
  },
  {
    id: 'picture.png',
    name: 'Download a picture as PNG',
    about: 'The same in dots, twice as fine as on screen.',
    can: always,
    run: (workbench) => void downloadPng(workbench),
  },
  {
    id: 'file.rename',
    name: 'Rename the file',
    about: 'Gives the sheet another file name; the emitted C takes it too.',
    can: always,
    run: ({ session }) => session.setState({ editing: 'file' }),
  },
];
