/** Names that C, its headers or a board's headers have taken, as names of blocks and of the sheet: everything still builds and agrees. */

import { existsSync } from 'node:fs';
import { join } from 'node:path';
import { describe, expect, test } from 'vitest';
import { targets } from '../../compiler/c/targets/targets.ts';
import { blankSheet, type Sheet } from '../../compiler/sheet/sheet.ts';
import { emitFor, hasToolsFor, make, requestOf, withFiles } from './emitted.ts';

/** Sensors and actuators end up as fields; gains between them as settings and locals. */
const sensors = ['int', 'SREG', 'y1', 'NAN', 'nothing'];
const middle = [
  ['linux', 'isnan', 'main', 'errno', 'NULL', 'INT32_MAX', 'lw_index', 'uint8_t', 'sizeof', 'm', 'in', 'out', 'w'],
  ['tick', 'start', 'due', 'board_wait', 'memcpy', 'fabsf', 'class', 'PORTA', 'TCNT1', 'F_CPU', 'TICK', 'unix', 'I'],
].flat();
const actuators = ['double', 'OCR1A', 'EOF', 'bool', 'stored_byte'];

/** Every sensor goes through a share of the gains in a row to an actuator. */
function clashing(): Sheet {
  const blocks: Record<string, { is: string; side?: 'plant'; set?: Record<string, number> }> = {
    world: { is: 'sine', side: 'plant', set: { size: 3, frequency: 2 } },
  };
  const wires: Record<string, string> = {};
  for (const [i, sensor] of sensors.entries()) {
    blocks[sensor] = { is: 'channel_in' };
    wires[`${sensor}.truth`] = 'world.y';
    let last = `${sensor}.y`;
    for (const [j, name] of middle.entries()) {
      if (j % sensors.length !== i) continue;
      blocks[name] = { is: j % 2 === 0 ? 'gain' : 'tick_delay', ...(j % 2 === 0 ? { set: { gain: 1 + j / 7 } } : {}) };
      wires[`${name}.u`] = last;
      last = `${name}.y`;
    }
    const actuator = actuators[i] ?? '';
    blocks[actuator] = { is: 'channel_out' };
    wires[`${actuator}.u`] = last;
  }
  return {
    ...blankSheet('Names */ that ?? clash \\\nall:\n\ttouch taken\n'),
    blocks,
    wires,
    runs: { go: { for: '0.5 s' } },
  };
}

describe('blocks', () => {
  test.each(targets.map((target) => target.name))('for %s', { timeout: 60_000 }, async (target) => {
    if (!hasToolsFor(target)) return;
    const request = await requestOf(clashing(), 'auto', 'go');
    await withFiles(emitFor(target, request), async (folder) => {
      expect(await make(folder)).toMatchObject({ status: 0, errors: '' });
      expect(existsSync(join(folder, 'taken')), 'a title is no rule of the Makefile').toBe(false);
      const { status, output } = await make(folder, 'check');
      expect(output).toMatch(/^[1-9]\d* passed, 0 failed$/m);
      expect(status).toBe(0);
    });
  });
});

describe('sheets', () => {
  const names = [
    'selfcheck',
    'board',
    'Board',
    'run',
    'channels',
    'fmu',
    'math',
    'main',
    'my robot (2)',
    '2wheels',
    'memcpy',
    'm',
  ];
  test.each(names)('named %s', { timeout: 60_000 }, async (name) => {
    const request = await requestOf(clashing(), name, 'go');
    for (const target of ['plain', 'posix', 'fmu', 'sketch']) {
      if (!hasToolsFor(target)) return;
      const files = emitFor(target, request);
      expect(new Set(files.map((file) => file.name.toLowerCase())).size).toBe(files.length);
      await withFiles(files, async (folder) => {
        expect(await make(folder)).toMatchObject({ status: 0, errors: '' });
        expect((await make(folder, 'check')).output).toMatch(/^[1-9]\d* passed, 0 failed$/m);
      });
    }
  });
});
