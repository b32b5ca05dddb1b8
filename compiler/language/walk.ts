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

/** Every name read, in order of first appearance; names an expression binds itself may be among them. */
export function namesIn(e: Expression): string[] {
  const names = new Set<string>();
  walk(e, (inner) => {
    if (inner.kind === 'name') names.add(inner.name);
    else if (inner.kind === 'fold') names.add(inner.list);
    else if (inner.kind === 'each' && 'in' in inner.over) names.add(inner.over.in);
  });
  return [...names];
}

/** Whether an expression calls a function of this name. */
export function callsFunction(e: Expression, name: string): boolean {
  let found = false;
  walk(e, (inner) => {
    if (inner.kind === 'call' && inner.name === name) found = true;
  });
  return found;
}
