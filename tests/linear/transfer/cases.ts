/** Reference cases (tests/reference; each names its source) and the command asked in this process. */

import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { expect, vi } from 'vitest';
import type { Complex } from '../../../compiler/linear/system.ts';
import { main } from '../../../runtime/command/main.ts';

export interface Case<Inputs, Expected> {
  readonly id: string;
  readonly kind: string;
  readonly checks: string;
  readonly source: string;
  readonly inputs: Inputs;
  readonly expected: Expected;
  readonly tolerance: Readonly<Record<string, { readonly rel?: number; readonly abs?: number }>>;
}

/** Cases of a kind, with the name and source of each as a title. */
export function casesOf<Inputs, Expected>(file: string, kind: string): [title: string, one: Case<Inputs, Expected>][] {
  const path = join(import.meta.dirname, '../../reference', file);
  const { cases } = JSON.parse(readFileSync(path, 'utf8')) as { cases: readonly Case<Inputs, Expected>[] };
  return cases.filter((one) => one.kind === kind).map((one) => [`${one.id}: ${one.checks}`, one]);
}

/** |got − wanted| ≤ max(abs, rel·|wanted|). */
export function expectNear(got: number | null | undefined, wanted: number | null, rel = 0, abs = 0, what = ''): void {
  if (wanted === null || got === null || got === undefined) expect(got ?? null, what).toBe(wanted);
  else
    expect(Math.abs(got - wanted), `${what}: ${got} for ${wanted}`).toBeLessThanOrEqual(
      Math.max(abs, rel * Math.abs(wanted)),
    );
}

/** The same for lists, in units of each element or of the largest. */
export function expectList(
  got: readonly number[],
  wanted: readonly number[],
  rel: number,
  scale?: 'max',
  abs = 0,
): void {
  expect(got).toHaveLength(wanted.length);
  const largest = Math.max(...wanted.map(Math.abs));
  wanted.forEach((value, i) => {
    expectNear(got[i], value, scale === 'max' ? 0 : rel, Math.max(abs, scale === 'max' ? rel * largest : 0), `[${i}]`);
  });
}

export type Pair = readonly [re: number, im: number];

/** Sets of points compared by nearest pairs; `allowed` says how far each wanted one may be off. */
export function expectSet(
  got: readonly Complex[],
  wanted: readonly Pair[],
  allowed: (wanted: Pair, i: number) => number,
): void {
  expect(got).toHaveLength(wanted.length);
  const left = [...got];
  wanted.forEach((point, i) => {
    const away = left.map(({ re, im }) => Math.hypot(re - point[0], im - point[1]));
    const nearest = away.indexOf(Math.min(...away));
    expect(away[nearest], `${point}`).toBeLessThanOrEqual(allowed(point, i));
    left.splice(nearest, 1);
  });
}

export function sizeOf([re, im]: Pair): number {
  return Math.hypot(re, im);
}

export interface Asked {
  readonly status: number;
  readonly errors: string;
  readonly data: Readonly<Record<string, unknown>>;
}

/** What the command answers to these words with `--json`. */
export async function asked(...words: readonly string[]): Promise<Asked> {
  const said = { output: '', errors: '' };
  const out = vi.spyOn(process.stdout, 'write').mockImplementation((text) => {
    said.output += String(text);
    return true;
  });
  const err = vi.spyOn(process.stderr, 'write').mockImplementation((text) => {
    said.errors += String(text);
    return true;
  });
  try {
    const status = await main([...words, '--json'], { builtEditor: async () => '', samples: '' });
    const data = JSON.parse(said.output) as Asked['data'];
    if (status === 0) expectNumbers({ ...data, gainInterval: 0 });
    return { status, errors: said.errors, data };
  } finally {
    out.mockRestore();
    err.mockRestore();
  }
}

/** What is not a number becomes null in JSON: there must be none in a list. */
function expectNumbers(value: unknown): void {
  if (Array.isArray(value)) expect(value).not.toContain(null);
  if (typeof value === 'object' && value !== null) for (const part of Object.values(value)) expectNumbers(part);
}
