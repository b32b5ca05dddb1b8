/** WebAssembly gives the interpreter's bits for every elementary function at every reference argument. */

import { expect, test } from 'vitest';
import { createWasmMachineSync } from '../../compiler/wasm/machine.ts';
import { answer, everything, fullName, reals, referenced } from './functions.ts';
import { reference } from './reference.ts';

const machine = createWasmMachineSync(everything);

for (const real of reals)
  test.each(referenced)(`%s_${real}`, (name) => {
    const { rows, arguments: columns } = reference(name, real);
    const func = machine.func(fullName(name, real));
    const apart: number[][] = [];
    for (let row = 0; row < rows; row++) {
      const x = columns.map((column) => column[row] ?? 0);
      if (!Object.is(func(...x), answer(name, real, ...x))) apart.push(x);
    }
    expect(apart).toEqual([]);
  });

test.each(reals)('normal_%s', (real) => {
  for (let tick = 0; tick < 2000; tick++) {
    const x = [3, 5, tick * 7919, tick];
    expect(machine.call(fullName('normal', real), ...x)).toBe(answer('normal', real, ...x));
  }
});
