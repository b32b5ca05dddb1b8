/** What keeps the project tidy: who may import whom, what only one place knows, and how files look. */

import { execFileSync } from 'node:child_process';
import { existsSync, readFileSync } from 'node:fs';
import { basename, dirname, join, normalize } from 'node:path';
import { expect, test } from 'vitest';

const root = normalize(join(import.meta.dirname, '..'));
const tracked = execFileSync('git', ['ls-files', '--cached', '--others', '--exclude-standard'], {
  cwd: root,
  encoding: 'utf8',
})
  .split('\n')
  .filter((file) => file !== '' && existsSync(join(root, file)));
const places = ['blocks/', 'compiler/', 'runtime/', 'editor/', 'tests/'];
const sources = tracked.filter(
  (file) => /\.(ts|tsx|mjs)$/.test(file) && places.some((place) => file.startsWith(place)),
);

const textOf = (file: string) => readFileSync(join(root, file), 'utf8');
const withoutComments = (text: string) => text.replace(/\/\*[\s\S]*?\*\/|(?<![:'"`\w])\/\/.*$/gm, '');

interface Import {
  readonly from: string;
  /** A file of the project, or a package's name. */
  readonly to: string;
  readonly inside: boolean;
}

function importsOf(file: string): Import[] {
  const found = withoutComments(textOf(file)).matchAll(
    /(?:^|[;\n])\s*(?:import|export)\s+(?:type\s+)?(?:[\w*{}\s,$]+?\s+from\s+)?'([^']+)'|\bimport\(\s*'([^']+)'\s*\)/g,
  );
  return [...found].map((match) => {
    const name = (match[1] ?? match[2] ?? '').replace(/\?.*$/, '');
    if (name.startsWith('.')) return { from: file, to: normalize(join(dirname(file), name)), inside: true };
    const parts = name.split('/');
    return { from: file, to: name.startsWith('@') ? parts.slice(0, 2).join('/') : (parts[0] ?? ''), inside: false };
  });
}

const imports = sources.flatMap(importsOf);
const said = (found: readonly Import[]) => found.map((one) => `${one.from} imports ${one.to}`);

test('there is something to look at', () => {
  expect(sources.length).toBeGreaterThan(50);
  expect(imports.filter((one) => one.inside).length).toBeGreaterThan(100);
});

/** Each place with what it may import besides itself. */
const layers: readonly (readonly [place: string, others: readonly string[]])[] = [
  ['blocks/', []],
  ['compiler/', ['blocks/']],
  ['runtime/', ['blocks/', 'compiler/', 'package.json']],
  ['editor/', ['blocks/', 'compiler/', 'runtime/', 'samples/']],
];

test.each(layers)('%s imports only itself and %j', (place, others) => {
  const wrong = imports.filter(
    (one) => one.inside && one.from.startsWith(place) && ![place, ...others].some((other) => one.to.startsWith(other)),
  );
  expect(said(wrong)).toEqual([]);
});

/** What a folder of the compiler must not know. */
const ignorance: readonly (readonly [place: string, unknown: RegExp])[] = [
  ['compiler/language/', /^compiler\/(sheet|stages|wasm|c|linear|review|picture|compile\.ts)/],
  ['compiler/sheet/', /^compiler\/(stages|wasm|c|linear|review|picture|compile\.ts)/],
  ['compiler/ir/', /^compiler\/(language|sheet|stages|wasm|c|linear|review|picture|compile\.ts)/],
  ['compiler/wasm/', /^compiler\/(language|sheet|c|linear|review|picture)/],
  ['compiler/c/', /^compiler\/(wasm|linear|review|picture)/],
  ['compiler/picture/', /^compiler\/(wasm|c|linear)/],
  ['runtime/bench/', /^runtime\/(command|link)/],
  ['runtime/link/', /^runtime\/command/],
  ['compiler/', /^blocks\/library\.ts/],
];

test.each(ignorance)('%s does not know %s', (place, unknown) => {
  const wrong = imports.filter((one) => one.inside && one.from.startsWith(place) && unknown.test(one.to));
  expect(said(wrong)).toEqual([]);
});

test('folders of compiler and runtime import each other in one direction only', () => {
  // A file that stands beside the folders counts by itself; what is inside a folder belongs to it.
  const node = (file: string) => file.split('/').slice(0, 2).join('/');
  const edges = new Map<string, Set<string>>();
  for (const { from, to, inside } of imports) {
    if (!inside || !/^(compiler|runtime)\//.test(from) || node(from) === node(to)) continue;
    edges.set(node(from), (edges.get(node(from)) ?? new Set()).add(node(to)));
  }
  const done = new Set<string>();
  const circles: string[] = [];
  const visit = (at: string, way: readonly string[]): void => {
    if (way.includes(at)) circles.push([...way.slice(way.indexOf(at)), at].join(' → '));
    else if (!done.has(at)) for (const next of edges.get(at) ?? []) visit(next, [...way, at]);
    done.add(at);
  };
  for (const at of edges.keys()) visit(at, []);
  expect(circles).toEqual([]);
});

test('compiler and runtime/bench touch neither Node nor the browser', () => {
  const pure = sources.filter((file) => /^(compiler|runtime\/bench)\//.test(file) && /\.tsx?$/.test(file));
  const wrong = imports.filter((one) => pure.includes(one.from) && /^(node:|react|fs$|path$|vite$)/.test(one.to));
  expect(said(wrong)).toEqual([]);
  const touching = pure.filter((file) =>
    /(?<![\w.'"`])(?:window|document|navigator|localStorage|process|Buffer)\.(?!\w*['"`])/.test(
      withoutComments(textOf(file)),
    ),
  );
  expect(touching).toEqual([]);
});

/** Outside things with the one place that knows each. */
const outside: readonly (readonly [name: string, place: string])[] = [
  ['reactflow', 'editor/draw/canvas/'],
  ['monaco-editor', 'editor/draw/block_text.tsx'],
  ['elkjs', 'editor/draw/tidy.ts'],
  ['uplot', 'editor/parts/chart.tsx'],
  ['idb', 'editor/document/'],
  ['zod', 'compiler/sheet/'],
  ['commander', 'runtime/command/'],
  ['react-dom', 'editor/'],
  ['react', 'editor/'],
  ['zustand', 'editor/'],
  ['immer', 'editor/document/'],
];

test.each(outside)('%s is known in %s alone', (name, place) => {
  const wrong = imports.filter(
    (one) => one.to === name && !one.from.startsWith(place) && !one.from.startsWith('tests/'),
  );
  expect(said(wrong)).toEqual([]);
});

test('every file opens with a sentence of purpose', () => {
  const silent = sources.filter((file) => !/^(#!.*\n)?\/\*\*[\s*]*\S.{14,}[\s\S]*?\*\//.test(textOf(file)));
  expect(silent).toEqual([]);
});

test('no file has more than 600 lines', () => {
  const long = tracked
    .filter((file) => /\.(ts|tsx|mjs|css|c|h|block|py)$/.test(file) && !file.startsWith('tests/reference/'))
    .map((file) => [file, textOf(file).split('\n').length - 1] as const)
    .filter(([, lines]) => lines > 600);
  expect(long).toEqual([]);
});

test('no check of types is switched off', () => {
  // The linter refuses `any`.
  expect(sources.filter((file) => /@ts-(ignore|nocheck)/.test(textOf(file)) && !file.startsWith('tests/tidy'))).toEqual(
    [],
  );
});

test('folders and files are called by what they hold', () => {
  const vague = tracked.filter((file) => file.split('/').some((part) => /^(utils?|helpers?|common|misc)\b/.test(part)));
  expect(vague).toEqual([]);
  expect(sources.filter((file) => /^index\.tsx?$/.test(basename(file)))).toEqual([]);
});

test('imports inside the project say the whole file name', () => {
  const short = imports.filter((one) => one.inside && !/\.\w+$/.test(one.to));
  expect(said(short)).toEqual([]);
  const lost = imports.filter((one) => one.inside && !existsSync(join(root, one.to)) && !one.to.startsWith('dist/'));
  expect(said(lost)).toEqual([]);
});

test('the project stands by itself', () => {
  const beside = new RegExp(['\\.\\./sha', 'red\\b|/work/(main|sha', 'red)'].join(''));
  const leaning = tracked
    .filter((file) => !/\.(png|woff2?|ttf|otf|zip|gz|wasm|ico)$/.test(file))
    .filter((file) => beside.test(textOf(file)));
  expect(leaning).toEqual([]);
});

test('every package is used, and every package used is named', () => {
  const { dependencies, devDependencies } = JSON.parse(textOf('package.json')) as Record<
    string,
    Record<string, string>
  >;
  const named = { ...dependencies, ...devDependencies };
  const used = new Set(imports.filter((one) => !one.inside && !/^(node:|virtual:)/.test(one.to)).map((one) => one.to));
  expect([...used].filter((name) => named[name] === undefined)).toEqual([]);
});
