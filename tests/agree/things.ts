/** Values of the direct evaluator: matrices of numbers with a kind, and what combines them. */

import { host } from '../../compiler/ir/host.ts';

export type Kind = 'real' | 'int' | 'bool' | 'literal' | 'word';

export interface Thing {
  readonly kind: Kind;
  readonly rows: number;
  readonly columns: number;
  readonly data: readonly number[];
  readonly word?: string;
}

export function real(x: number): Thing {
  return { kind: 'real', rows: 1, columns: 1, data: [x] };
}
export function whole(x: number): Thing {
  return { kind: 'int', rows: 1, columns: 1, data: [x] };
}
export function truth(x: boolean): Thing {
  return { kind: 'bool', rows: 1, columns: 1, data: [x ? 1 : 0] };
}

export function together(a: Thing, b: Thing): Kind {
  if (a.kind === b.kind) return a.kind;
  const kinds = [a.kind, b.kind];
  if (kinds.includes('real')) return 'real';
  const literal = a.kind === 'literal' ? a : b;
  return literal.data.every(Number.isInteger) ? 'int' : 'real';
}

export function kindOf(things: readonly Thing[]): Kind {
  return things
    .map((x) => x.kind)
    .reduce(
      (a, b) => (a === b ? a : a === 'real' || b === 'real' ? 'real' : a === 'literal' ? b : a),
      things[0]?.kind ?? 'literal',
    );
}

export function extreme(name: 'min' | 'max', a: Thing, b: Thing): Thing {
  const shape = a.data.length === 1 ? b : a;
  const data = shape.data.map((_, i) => {
    const [x = 0, y = 0] = [a.data[a.data.length === 1 ? 0 : i], b.data[b.data.length === 1 ? 0 : i]];
    return (name === 'min' ? y < x : x < y) ? y : x;
  });
  return { ...shape, kind: together(a, b), data };
}

export function product(a: Thing, b: Thing, kind: Kind): Thing {
  const data: number[] = [];
  for (let i = 0; i < a.rows; i++)
    for (let j = 0; j < b.columns; j++) {
      let sum = 0;
      for (let k = 0; k < a.columns; k++) sum += (a.data[i * a.columns + k] ?? 0) * (b.data[k * b.columns + j] ?? 0);
      data.push(sum);
    }
  return { kind, rows: a.rows, columns: b.columns, data };
}

/** Whole powers multiply, others are the host's. */
export function power(a: Thing, b: Thing): Thing {
  const n = b.data[0] ?? 0;
  const times = (x: number, y: number): number => (a.kind === 'int' ? Math.imul(x, y) : x * y);
  const raised = (x: number): number => {
    if (!Number.isInteger(n)) return host.pow(x, n);
    let product = n === 0 ? 1 : x;
    for (let i = 1; i < Math.abs(n); i++) product = times(product, x);
    return n < 0 ? 1 / product : product;
  };
  return { ...a, kind: a.kind === 'int' ? 'int' : 'real', data: a.data.map(raised) };
}

/** Elimination with the largest pivot of each column, then back. */
export function solve(m: Thing, f: Thing): Thing {
  const n = m.rows;
  const rows = Array.from({ length: n }, (_, i) => [
    ...m.data.slice(i * n, i * n + n),
    ...f.data.slice(i * f.columns, (i + 1) * f.columns),
  ]);
  const at = (i: number, j: number): number => rows[i]?.[j] ?? Number.NaN;
  for (let k = 0; k < n; k++) {
    for (let i = k + 1; i < n; i++)
      if (Math.abs(at(k, k)) < Math.abs(at(i, k))) [rows[k], rows[i]] = [rows[i] ?? [], rows[k] ?? []];
    for (let i = k + 1; i < n; i++) {
      const by = at(i, k) / at(k, k);
      rows[i] = (rows[i] ?? []).map((x, j) => (j <= k ? 0 : x - by * at(k, j)));
    }
  }
  const x: number[] = new Array(n * f.columns).fill(0);
  for (let c = 0; c < f.columns; c++)
    for (let i = n - 1; i >= 0; i--) {
      let rest = at(i, n + c);
      for (let j = i + 1; j < n; j++) rest -= at(i, j) * (x[j * f.columns + c] ?? 0);
      x[i * f.columns + c] = rest / at(i, i);
    }
  return { kind: 'real', rows: n, columns: f.columns, data: x };
}
