/** The text of the C: read as a person would, literals bit by bit, names, traces to blocks, and an outside checker. */

import { spawnSync } from 'node:child_process';
import { writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { describe, expect, test } from 'vitest';
import { deviations } from '../../compiler/c/deviations.ts';
import { cFields, emitC } from '../../compiler/c/emit.ts';
import { literal, shortestSingle } from '../../compiler/c/literals.ts';
import { cName, Names } from '../../compiler/c/names.ts';
import { Builder, realOps } from '../../compiler/ir/build.ts';
import type { Program, Slot } from '../../compiler/ir/program.ts';
import { verify } from '../../compiler/ir/verify.ts';
import { misraFindings } from '../agree/misra.ts';
import { Dealer, oddNumber, randomNumbers, randomProgram } from '../agree/programs.ts';
import { compileC, hasCommand, inFolder, strict, writeFiles } from '../agree/programs_c.ts';

function slot(id: number, name: string, more: Partial<Slot>): Slot {
  const length = more.length ?? 1;
  return {
    id,
    name,
    kind: 'memory',
    type: 'f32',
    length,
    start: Array(length).fill(0),
    block: name.split('.')[0] ?? '',
    ...more,
  };
}

/** A tank: three readings are averaged, smoothed, limited; every second tick the valve is told; a fault latches. */
function tank(): Program {
  const slots = [
    slot(0, 'level', { kind: 'input', length: 3, note: 'm, of the water above the outlet' }),
    slot(1, 'manual', { kind: 'input', type: 'bool', note: 'hand wheel engaged' }),
    slot(2, 'valve', { kind: 'output', note: '0 shut, 1 open' }),
    slot(3, 'alarm', { kind: 'output', type: 'bool' }),
    slot(4, 'smooth.keep', { kind: 'setting', start: [Math.fround(0.9)], note: 'what is kept of the last value' }),
    slot(5, 'smooth.x', { note: 'm' }),
    slot(6, 'smooth.started', { type: 'bool' }),
    slot(7, 'tick.beat', { type: 'i32', block: '' }),
    slot(8, 'law.y', { kind: 'wire' }),
    slot(9, 'late.head', { type: 'i32' }),
    slot(10, 'late.past', { kind: 'line', length: 4, head: 9 }),
    slot(11, 'watch.tripped', { type: 'bool' }),
    slot(12, 'curve.table', { kind: 'setting', length: 9, start: [0, 1, 2, 3, 5, 8, 13, 21, 34] }),
  ];
  const limit = new Builder('limit', ['f32', 'f32', 'f32']);
  const ops = realOps(limit, 'f32');
  const above = ops.select(ops.lt(0, 1), 1, 0);
  const limited = limit.finish(ops.select(ops.lt(2, above), 2, above));

  const b = new Builder('tick');
  const { add, sub, mul, div, eq, lt, number, abs, toInt } = realOps(b, 'f32');
  b.note('mean', 'average of three');
  const [first = 0, second = 0, third = 0] = [0, 1, 2].map((i) => b.load(0, 'f32', b.const('i32', i)));
  const mean = div(add(add(first, second), third), number(3));
  b.named(mean, 'mean.y');
  b.note('smooth', 'low-pass');
  b.if(b.op('not_bool', b.load(6, 'bool')), () => b.store(5, mean));
  b.store(6, b.const('bool', 1));
  const keep = b.load(4, 'f32');
  const smooth = add(mul(keep, b.load(5, 'f32')), mul(sub(number(1), keep), mean));
  b.named(smooth, 'smooth.y');
  b.store(5, smooth);
  b.note('watch', 'latches when the level is no number');
  const tripped = b.op('or_bool', b.load(11, 'bool'), b.op('not_bool', eq(smooth, smooth)));
  b.store(11, tripped);
  b.store(3, tripped);
  b.note('', 'every 2 ticks');
  const beat = b.load(7, 'i32');
  b.if(
    b.op('eq_i32', beat, b.const('i32', 0)),
    () => {
      b.note('law', 'proportional, with a table for the outlet');
      const entry = b.load(12, 'f32', toInt(abs(smooth)));
      const wanted = add(mul(sub(number(1.5), smooth), number(2)), entry);
      const y = b.call('limit', 'f32', wanted, number(0), number(1));
      b.named(y, 'law.y');
      b.if(
        b.op('or_bool', tripped, b.load(1, 'bool')),
        () => b.store(8, number(0)),
        () => b.store(8, y),
      );
    },
    () => b.run('limit', smooth, smooth, smooth),
  );
  b.note('late', 'a pipe of four ticks');
  const late = b.lineLoad(10, 'f32', b.const('i32', 4));
  b.linePush(10, b.load(8, 'f32'));
  b.store(2, b.op('select_f32', lt(late, number(0)), number(-0), late));
  b.note('', 'until the next tick');
  b.store(7, b.op('rem_i32', b.op('add_i32', beat, b.const('i32', 1)), b.const('i32', 2)));
  return { name: 'tank', real: 'f32', slots, functions: [limited, b.finish()] };
}

const files = emitC(tank(), { name: 'tank', purpose: 'Keeps the water of a tank at its level.', tick: '20 ms' });
const text = (name: string): string => files.find((file) => file.name === name)?.text ?? '';

test('the whole text of a small program', async () => {
  expect(verify(tank())).toEqual([]);
  await expect(text('tank.c')).toMatchFileSnapshot('back_ends_tank.c');
  await expect(text('tank.h')).toMatchFileSnapshot('back_ends_tank.h');
  expect(emitC(tank(), { name: 'tank', purpose: 'Keeps the water of a tank at its level.', tick: '20 ms' })).toEqual(
    files,
  );
});

describe('lines know their blocks', () => {
  const source = files[0];
  const blockOf = (part: string): string | undefined => {
    const at = source?.text.split('\n').findIndex((line) => line.includes(part)) ?? -1;
    expect(at, part).toBeGreaterThan(0);
    return source?.lines[at];
  };

  test('one entry a line', () => {
    for (const file of files) expect(file.lines).toHaveLength(file.text.split('\n').length - 1);
  });

  test('a statement and its stanza belong to the block they say, what is between blocks to none', () => {
    expect(blockOf('/* smooth: low-pass */')).toBe('smooth');
    expect(blockOf('const float smooth_y =')).toBe('smooth');
    expect(blockOf('m->law_y = 0.0f')).toBe('law');
    expect(blockOf('out->alarm =')).toBe('watch');
    expect(blockOf('m->tick_beat = lw_rem_i32')).toBe(undefined);
    expect(blockOf('m->smooth_keep = 0.9f;')).toBe('smooth');
    expect(blockOf('static int32_t lw_index')).toBe(undefined);
  });
});

describe('structs', () => {
  const fields = cFields(tank());

  test('bytes are what the compiler says', () => {
    if (!hasCommand('gcc')) return;
    const program = `#include "tank.h"
int main(void) { return (sizeof(tank_t) == ${fields.bytes.m} && sizeof(tank_in_t) == ${fields.bytes.in} && sizeof(tank_out_t) == ${fields.bytes.out}) ? 0 : 1; }
`;
    inFolder((folder) => {
      writeFiles(folder, files);
      writeFileSync(join(folder, 'sizes.c'), program);
      expect(spawnSync(compileC(folder, 'gcc', strict, ['sizes.c'])).status).toBe(0);
    });
  });

  test('settings come first, then memories, lines and held wires', () => {
    expect(fields.m.map((field) => field.name)).toEqual([
      'smooth_keep',
      'curve_table',
      'smooth_x',
      'smooth_started',
      'tick_beat',
      'late_head',
      'watch_tripped',
      'late_past',
      'law_y',
    ]);
    expect(fields.places.get(0)).toEqual({ holder: 'in', name: 'level' });
  });

  test('an output that is not written at every call, or is read back, is held in the struct', () => {
    const b = new Builder('tick');
    b.if(b.load(0, 'bool'), () => b.store(1, b.const('f32', 2)));
    b.store(2, b.load(2, 'f32', b.const('i32', 1)), b.const('i32', 0));
    const slots = [
      slot(0, 'go', { kind: 'input', type: 'bool' }),
      slot(1, 'pump', { kind: 'output' }),
      slot(2, 'fans', { kind: 'output', length: 2 }),
    ];
    const program: Program = { name: 'p', real: 'f32', slots, functions: [b.finish()] };
    expect(cFields(program).m.map((field) => field.name)).toEqual(['pump_held', 'fans_held']);
    expect(emitC(program, { name: 'p' })[0]?.text).toContain('out->pump = m->pump_held;');
  });

  test('a program that remembers nothing and a name that C has taken still compile as C and C++', () => {
    const b = new Builder('tick');
    b.store(1, b.load(0, 'f64'));
    const slots = [
      slot(0, 'int', { kind: 'input', type: 'f64', note: 'm */ trick /* s' }),
      slot(1, 'new', { kind: 'output', type: 'f64' }),
    ];
    const program: Program = { name: 'pass', real: 'f64', slots, functions: [b.finish()] };
    const emitted = emitC(program, { name: 'register', purpose: 'Passes it on. */ int x; /*' });
    expect(emitted.map((file) => file.name)).toEqual(['register.c', 'register.h']);
    if (!hasCommand('gcc')) return;
    inFolder((folder) => {
      writeFiles(folder, emitted);
      writeFileSync(
        join(folder, 'main.c'),
        '#include "register.h"\nint main(void) { return register__arithmetic_ok() == 0; }\n',
      );
      expect(spawnSync(compileC(folder, 'gcc', strict, ['register.c', 'main.c'])).status).toBe(0);
      writeFileSync(
        join(folder, 'use.cpp'),
        '#include "register.h"\nint f(register__in_t *in) { return in->int_ > 0; }\n',
      );
      if (hasCommand('g++'))
        expect(spawnSync('g++', ['-Wall', '-Werror', '-c', 'use.cpp'], { cwd: folder }).status).toBe(0);
    });
  });
});

describe('names', () => {
  test('dots become lines, taken names get one at their end, equal names a number', () => {
    expect(cName('balance.tilt.x')).toBe('balance_tilt_x');
    for (const name of ['int', 'class', 'linux', 'NAN', 'lw_index', 'int32_t', 'INT32_C'])
      expect(cName(name)).toBe(`${name}_`);
    expect(cName('wheel_t')).toBe('wheel_t');
    const names = new Names(['m']);
    expect(['a.b', 'a_b', 'm', 'a.b'].map((name) => names.take(name))).toEqual(['a_b', 'a_b_2', 'm_2', 'a_b_3']);
  });
});

describe('literals', () => {
  test('are short, carry their type and say odd numbers safely', () => {
    expect([0.1, 1, -0, 16777216, 1e-45, 3.4028234663852886e38].map((x) => literal('f32', Math.fround(x)))).toEqual([
      '0.1f',
      '1.0f',
      '-0.0f',
      '16777216.0f',
      '1e-45f',
      '3.4028235e+38f',
    ]);
    expect([0.1, 1, 1e21, 5e-324, NaN, Infinity, -Infinity].map((x) => literal('f64', x))).toEqual([
      '0.1',
      '1.0',
      '1e+21',
      '5e-324',
      '(double)NAN',
      '(double)INFINITY',
      '-(double)INFINITY',
    ]);
    expect([0, -5, -2147483648].map((x) => literal('i32', x))).toEqual(['0', '-5', '(-2147483647 - 1)']);
  });

  test('read back as the same f32 and are never longer than nine digits', () => {
    const random = randomNumbers(5);
    for (let i = 0; i < 20_000; i++) {
      const x = Math.abs(oddNumber('f32', random));
      if (!Number.isFinite(x)) continue;
      const digits = shortestSingle(x);
      expect(Math.fround(Number(digits))).toBe(x);
      expect(digits.replace(/e.*|\.|^0\.0*/g, '').replace(/^0+|0+$/g, '').length).toBeLessThanOrEqual(9);
    }
  });

  test.skipIf(!hasCommand('gcc'))('are read by compilers as the bits they stand for', () => {
    const random = randomNumbers(6);
    const singles: number[] = [];
    const doubles: number[] = [];
    for (let i = 0; i < 3000; i++) {
      singles.push(oddNumber('f32', random));
      doubles.push(oddNumber('f64', random));
    }
    const bits32 = new Uint32Array(Float32Array.from(singles).buffer);
    const bits64 = new BigUint64Array(Float64Array.from(doubles).buffer);
    const source = `#include <math.h>
#include <stdint.h>
#include <string.h>
static const float f[] = {${singles.map((x) => literal('f32', x)).join(',')}};
static const uint32_t fb[] = {${[...bits32].map((x) => `${x}U`).join(',')}};
static const double d[] = {${doubles.map((x) => literal('f64', x)).join(',')}};
static const uint64_t db[] = {${[...bits64].map((x) => `UINT64_C(${x})`).join(',')}};
int main(void) {
  int wrong = 0;
  for (int i = 0; i < 3000; i++) {
    uint32_t a; uint64_t b;
    memcpy(&a, &f[i], 4); memcpy(&b, &d[i], 8);
    if (f[i] == f[i] ? a != fb[i] : !(fb[i] << 1 > 0xff000000U)) { wrong = 1; }
    if (d[i] == d[i] ? b != db[i] : !(db[i] << 1 > UINT64_C(0xffe0000000000000))) { wrong = 1; }
  }
  return wrong;
}
`;
    inFolder((folder) => {
      writeFileSync(join(folder, 'literals.c'), source);
      for (const compiler of ['gcc', 'clang'])
        if (hasCommand(compiler))
          expect(spawnSync(compileC(folder, compiler, strict, ['literals.c'])).status, compiler).toBe(0);
    });
  });
});

describe.skipIf(!hasCommand('cppcheck'))('cppcheck with its MISRA C:2012 addon', () => {
  test('finds only the listed deviations', { timeout: 60_000 }, () => {
    const dealer = new Dealer();
    const random = Array.from({ length: 1 }, (_, i) => randomProgram(`random_${i}`, 71 + i, 200, dealer));
    inFolder((folder) => {
      writeFiles(folder, [...files, ...random.flatMap((program) => emitC(program, { name: program.name }))]);
      expect(misraFindings(folder, 'tank.c')).toEqual([]);
      const found = random.flatMap((program) =>
        misraFindings(folder, `${program.name}.c`).map((line) => line.split(' ')[0]),
      );
      const listed = deviations.map((deviation) => deviation.rule);
      expect(found.filter((rule) => !listed.includes(rule ?? ''))).toEqual([]);
      expect(found, 'it does look at the file').toContain('misra-c2012-21.15');
    });
  });
});
