/** Edits to a sheet as data: how a repair, or the editor, changes it without changing the one before. */

import type { Edit } from '../findings.ts';
import type { Sheet } from './sheet.ts';

type Tree = Readonly<Record<string, unknown>>;

/**
 * A sheet with the edits made, one after another. Records on the way to a value are made as needed, and a removal of
 * what is not there changes nothing. The sheet given, and every part no edit touches, stays as it was.
 * The result is not checked: load what `saveSheet` writes where the edits come from elsewhere.
 */
export function applyEdits(sheet: Sheet, edits: readonly Edit[]): Sheet {
  let tree: Tree = sheet as unknown as Tree;
  for (const edit of edits) tree = changed(tree, edit.path, edit.value);
  return tree as unknown as Sheet;
}

function changed(tree: Tree, path: readonly string[], value: unknown): Tree {
  const [key, ...rest] = path;
  if (key === undefined) return tree;
  if (key === '__proto__') throw new Error('An edit cannot name __proto__.');
  const old = Object.hasOwn(tree, key) ? tree[key] : undefined;
  if (rest.length > 0) {
    if (Array.isArray(old)) return { ...tree, [key]: changedArray(old, rest, value) };
    if (!isTree(old) && value === undefined) return tree;
    return { ...tree, [key]: changed(isTree(old) ? old : {}, rest, value) };
  }
  if (value !== undefined) return { ...tree, [key]: value };
  if (old === undefined) return tree;
  const { [key]: _removed, ...left } = tree;
  return left;
}

function changedArray(items: readonly unknown[], path: readonly string[], value: unknown): readonly unknown[] {
  const [key = '', ...rest] = path;
  const index = Number(key);
  if (!Number.isInteger(index) || index < 0 || index > items.length) return items;
  if (rest.length === 0 && value === undefined) return items.toSpliced(index, 1);
  const old = items[index];
  const next =
    rest.length === 0
      ? value
      : Array.isArray(old)
        ? changedArray(old, rest, value)
        : changed(isTree(old) ? old : {}, rest, value);
  return [...items.slice(0, index), next, ...items.slice(index + 1)];
}

function isTree(value: unknown): value is Tree {
  return typeof value === 'object' && value !== null && !Array.isArray(value);
}
