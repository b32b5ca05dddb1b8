/** Gives a block another name, everywhere, as one step. */
import { mayBeNamed, renameBlock } from '../document/rename.ts';
import { say } from '../session.ts';
import type { Workbench } from '../workbench.ts';

/** True, or a sentence that says why not. */
export function renameMark({ document, session }: Workbench, from: string, to: string): true | string {
  const { scope } = session.getState();
  const may = mayBeNamed(document.sheet(), scope, from, to);
  if (may !== true) return may;
  document.change(`rename ${from} to ${to}`, `${scope}/${to}`, (sheet) => renameBlock(sheet, scope, from, to));
  say(session, `${from} is ${to} now.`);
  return true;
}
