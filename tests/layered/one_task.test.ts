/** A layered schedule means what its delays mean when they are drawn: the same bits, on both engines. */

import { expect, test } from 'vitest';
import { library } from '../../blocks/library.ts';
import { compile } from '../../compiler/compile.ts';
import { verify } from '../../compiler/ir/verify.ts';
import type { Sheet } from '../../compiler/sheet/sheet.ts';
import { type Engine, openBench } from '../../runtime/bench/bench.ts';
import { asOneTask, layeredSheet } from './random_rates.ts';

const TICKS = 300;
const SEED = Number(process.env.SEED ?? 1);
const SHEETS = Number(process.env.SHEETS ?? 150);

async function trace(sheet: Sheet, record: readonly string[], engine: Engine): Promise<Float64Array> {
  const { value, findings } = compile(sheet, { library });
  if (value === undefined) throw new Error(JSON.stringify(findings.filter((finding) => finding.level === 'error')));
  expect(verify(value.controller)).toEqual([]);
  const bench = await openBench(value, { engine, record }, []);
  return bench.advance(TICKS);
}

test(`${SHEETS} random sheets of several rates from seed ${SEED}`, async () => {
  let moving = 0;
  let tasks = 0;
  for (let seed = SEED; seed < SEED + SHEETS; seed++) {
    const layered = layeredSheet(seed);
    const { sheet, seen } = asOneTask(layered);
    const ports = Object.keys(seen);
    const want = await trace(sheet, Object.values(seen), 'wasm');
    for (const engine of ['wasm', 'interpreter'] as const) {
      const got = await trace(layered, ports, engine);
      const at = got.findIndex((x, i) => !Object.is(x, want[i]) && !(Number.isNaN(x) && Number.isNaN(want[i] ?? 0)));
      const where = at < 0 ? '' : `tick ${Math.floor(at / ports.length)}, ${ports[at % ports.length]}`;
      expect([seed, engine, where]).toEqual([seed, engine, '']);
    }
    if (want.slice(-ports.length).some((x, i) => Number.isFinite(x) && x !== want[want.length - 10 * ports.length + i]))
      moving++;
    tasks += compile(layered, { library }).value?.controller.layers?.tasks.length ?? 0;
  }
  console.log(`${moving} of ${SHEETS} end finite and still changing; ${(tasks / SHEETS).toFixed(1)} tasks a sheet`);
  expect(moving / SHEETS).toBeGreaterThan(0.9);
  expect(tasks / SHEETS).toBeGreaterThan(2);
}, 120_000);
