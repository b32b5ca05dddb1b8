/** Watching changes nothing: recording everything, or little, leaves every output bit as it was. */

import { expect, test } from 'vitest';
import { library } from '../../blocks/library.ts';
import { prepareRun } from '../../runtime/bench/run.ts';
import { sample } from '../samples/sample.ts';

test('the row scout moves the same whether all of it is recorded or one port', async () => {
  const sheet = sample('row_scout/row_scout.sheet.json');
  const request = { library, run: 'push_left', record: ['body.lean', 'drive.raw', 'gate.mode'], hooks: ['body.push'] };
  const little = await prepareRun(sheet, request, []);
  const all = await prepareRun(sheet, { ...request, everything: true, hooks: [] }, []);
  if (little === undefined || all === undefined) throw new Error('the run cannot be prepared');
  const ticks = 1200;
  const [few, many] = [little.bench.advance(ticks), all.bench.advance(ticks)];
  const [narrow, wide] = [little.bench.columns, all.bench.columns];
  expect(wide.length).toBeGreaterThan(50);
  for (const [i, { name }] of narrow.entries()) {
    const j = wide.findIndex((column) => column.name === name);
    for (let k = 0; k < ticks; k++)
      expect([name, k, many[k * wide.length + j]]).toEqual([name, k, few[k * narrow.length + i]]);
  }
});
