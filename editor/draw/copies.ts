/** Where the inside of a group is looked at: which of its copies, what stands around it, and the way to any block by its dotted path. */
import { entry, type Sheet } from '../../compiler/sheet/sheet.ts';
import { groundOf, instancesOf } from '../document/edits.ts';
import type { Workbench } from '../workbench.ts';
import { goTo, lookAt } from './going.ts';

/** The copy looked at, by its dotted path with a dot behind it: the one asked for if it is one, else the first; empty for the sheet. */
export function copyOf(sheet: Sheet, scope: string, within: string): string {
  const copies = instancesOf(sheet, scope);
  return copies.includes(within) ? within : (copies[0] ?? '');
}

/** The group around the inside of each name on a dotted path, from the sheet on; undefined where the path leads through no groups. */
export function scopesAlong(sheet: Sheet, names: readonly string[]): readonly string[] | undefined {
  const scopes = [''];
  for (const name of names) {
    const is = groundOf(sheet, scopes.at(-1) ?? '')?.blocks[name]?.is;
    if (is === undefined || typeof entry(sheet.shelf, is) !== 'object') return undefined;
    scopes.push(is);
  }
  return scopes;
}

/** Goes out of the group looked at, to the block that is its copy. */
export function leaveGroup(workbench: Workbench): void {
  const { document, session } = workbench;
  const { scope, within } = session.getState();
  const names = copyOf(document.sheet(), scope, within).split('.').slice(0, -1);
  const block = names.pop();
  const around = scopesAlong(document.sheet(), names)?.at(-1) ?? '';
  session.setState({ scope: around, within: names.map((name) => `${name}.`).join(''), selection: [], mark: undefined });
  if (block !== undefined) goTo(workbench, { on: 'block', at: block });
  lookAt(workbench, 'all');
}

/** Goes to a block by its dotted path, into the groups it stands in; false where there is none. */
export function goToPath(workbench: Workbench, path: string): boolean {
  const { document, session } = workbench;
  const names = path.split('.');
  const block = names.pop() ?? '';
  const scope = scopesAlong(document.sheet(), names)?.at(-1);
  if (scope === undefined || groundOf(document.sheet(), scope)?.blocks[block] === undefined) return false;
  const within = names.map((name) => `${name}.`).join('');
  const before = session.getState();
  const elsewhere = before.scope !== scope || before.within !== within;
  if (elsewhere) session.setState({ scope, within, mark: undefined, selection: [] });
  goTo(workbench, { on: 'block', at: block });
  if (before.scope !== scope) lookAt(workbench, 'all');
  return true;
}
