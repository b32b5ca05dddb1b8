/** How long loading, saving, compiling and running take on sheets of growing size. Bounds are loose: they catch a wrong power, not a slow machine. */

import { expect, test } from 'vitest';
import { library } from '../../blocks/library.ts';
import { compile } from '../../compiler/compile.ts';
import { loadSheet } from '../../compiler/sheet/load.ts';
import { saveSheet } from '../../compiler/sheet/save.ts';
import { type BlockOnSheet, blankSheet, type Sheet } from '../../compiler/sheet/sheet.ts';
import { openBench } from '../../runtime/bench/bench.ts';

/** A chain of filters with a loop round every tenth, all on the controller side. */
function chain(count: number): Sheet {
  const blocks: Record<string, BlockOnSheet> = { source: { is: 'sine', set: { size: 1, frequency: '2 rad/s' } } };
  const wires: Record<string, string> = {};
  const layout: Record<string, [number, number]> = {};
  let before = 'source.y';
  for (let i = 0; i < count; i++) {
    const name = `b${i}`;
    if (i % 10 === 9) {
      blocks[name] = { is: 'summing_point', inputs: { on: '+', back: '-' } };
      wires[`${name}.on`] = before;
      wires[`${name}.back`] = `${name}d.y`;
      blocks[`${name}d`] = { is: 'tick_delay' };
      wires[`${name}d.u`] = `${name}.y`;
    } else {
      blocks[name] = i % 2 === 0 ? { is: 'low_pass', set: { corner: '30 rad/s' } } : { is: 'gain', set: { gain: 0.9 } };
      wires[`${name}.u`] = before;
    }
    before = `${name}.y`;
    layout[name] = [(i % 20) * 200, Math.floor(i / 20) * 120];
  }
  return { ...blankSheet(`A chain of ${count}`), blocks, wires, layout };
}

async function timed<T>(what: string, work: () => T | Promise<T>): Promise<{ value: T; milliseconds: number }> {
  const began = performance.now();
  const value = await work();
  const milliseconds = performance.now() - began;
  console.log(`${what}: ${milliseconds.toFixed(0)} ms`);
  return { value, milliseconds };
}

test('2,000 blocks are loaded and saved within a second', async () => {
  const text = saveSheet(chain(1_800));
  const loaded = await timed(`load ${Object.keys(chain(1_800).blocks).length} blocks`, () => loadSheet(text));
  expect(loaded.value.findings).toEqual([]);
  expect(loaded.milliseconds).toBeLessThan(1_000);
  const saved = await timed('save them', () => saveSheet(loaded.value.value as Sheet));
  expect(saved.value).toBe(text);
  expect(saved.milliseconds).toBeLessThan(1_000);
});

test('compiling grows with the sheet, not with its square', () => {
  /** Milliseconds, the median of several warm runs, WebAssembly left out. */
  const cost = (count: number, runs: number): number => {
    const sheet = chain(count);
    const times = Array.from({ length: runs + 1 }, () => {
      const began = performance.now();
      const { findings } = compile(sheet, { library });
      expect(findings.filter((finding) => finding.level === 'error')).toEqual([]);
      return performance.now() - began;
    });
    return times.slice(1).sort((a, b) => a - b)[Math.floor(runs / 2)] ?? 0;
  };
  cost(100, 20);
  const [hundred, thousand, tenThousand] = [cost(100, 15), cost(1_000, 7), cost(10_000, 3)];
  console.log(
    [
      `compile, warm: 100 blocks ${hundred.toFixed(1)} ms, 1,000 ${thousand.toFixed(0)} ms, 10,000 ${tenThousand.toFixed(0)} ms`,
      `1,000 against 100: ${(thousand / hundred).toFixed(1)}; 10,000 against 1,000: ${(tenThousand / thousand).toFixed(1)}`,
    ].join('\n'),
  );
  expect(thousand / hundred).toBeLessThan(40);
});

test('a run of 200 blocks is many times faster than time', async () => {
  const { value } = compile(chain(200), { library });
  if (value === undefined) throw new Error('The chain does not compile.');
  const bench = await openBench(value, { engine: 'wasm', record: ['b199.y'] }, []);
  bench.advance(1_000);
  const ticks = 100_000;
  const { milliseconds } = await timed(`run ${ticks} ticks of 200 blocks`, () => bench.advance(ticks));
  const ratio = (ticks * 5) / milliseconds;
  console.log(`that is ${ratio.toFixed(0)} times real time at 5 ms a tick`);
  expect(ratio).toBeGreaterThan(100);
});
