/** What an expression reads: its names and the functions it calls. */

import type { Expression } from './syntax.ts';

/** Calls `visit` for an expression and everything inside it. */
export function walk(e: Expression, visit: (inner: Expression) => void): void {
  visit(e);
  for (const child of children(e)) walk(child, visit);
}

function children(e: Expression): readonly Expression[] {
  switch (e.kind) {
    case 'number':
    case 'name':
    case 'word':
    case 'is':
      return [];
    case 'unary':
      return [e.arg];
    case 'binary':
      return [e.left, e.right];
    case 'choose':
      return [e.condition, e.then, e.else];
    case 'call':
      return e.args;
    case 'index':
      return [e.base, ...e.indices];
    case 'matrix':
      return e.rows.flat();
    case 'each':
      return 'to' in e.over ? [e.body, e.over.to] : [e.body];
    case 'fold':
      return [e.start, e.body];
  }
}

/** A block's expressions are asked about once for each place the block stands in. */
const read = new WeakMap<Expression, readonly string[]>();

/** Every name read, in order of first appearance; names an expression binds itself may be among them. */
export function namesIn(e: Expression | undefined): readonly string[] {
  if (e === undefined) return [];
  const known = read.get(e);
  if (known !== undefined) return known;
  const names = new Set<string>();
  walk(e, (inner) => {
    if (inner.kind === 'name') names.add(inner.name);
    else if (inner.kind === 'fold') names.add(inner.list);
    else if (inner.kind === 'each' && 'in' in inner.over) names.add(inner.over.in);
  });
  const found = [...names];
  read.set(e, found);
  return found;
}

/**
 * A name and what it stands on, each after what it stands on itself; a circle is cut where it closes. To evaluate them in
 * this order never leads deeper than one expression, however long the chain of names. `reads` gives what a name reads.
 */
export function standsOn(name: string, reads: (name: string) => readonly string[]): string[] {
  const order: string[] = [];
  const seen = new Set<string>();
  const waiting: { readonly name: string; readonly opened: boolean }[] = [{ name, opened: false }];
  for (let next = waiting.pop(); next !== undefined; next = waiting.pop()) {
    if (next.opened) order.push(next.name);
    if (next.opened || seen.has(next.name)) continue;
    seen.add(next.name);
    waiting.push({ name: next.name, opened: true });
    for (const other of reads(next.name)) if (!seen.has(other)) waiting.push({ name: other, opened: false });
  }
  return order;
}

/** Whether an expression calls a function of this name. */
export function callsFunction(e: Expression, name: string): boolean {
  let found = false;
  walk(e, (inner) => {
    if (inner.kind === 'call' && inner.name === name) found = true;
  });
  return found;
}
