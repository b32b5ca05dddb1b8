/** Any C99 compiler: the program, its self-check, and a Makefile for a machine with an operating system. */

import { hosted } from '../selfcheck.ts';
import { makefile } from './makefile.ts';
import { readme } from './readme.ts';
import type { Target } from './target.ts';

const about = { about: 'C99 for any machine', cautions: [] };

export const plain: Target = {
  name: 'plain',
  ...about,
  machine: 'any C99 compiler with IEEE 754 arithmetic',
  numbers: ['f32', 'f64'],
  room: Number.POSITIVE_INFINITY,
  eachNumber: true,
  machinery: hosted,
  around: (made) => [
    makefile(made, {
      compiler: 'gcc',
      size: 'size',
      packages: 'gcc libc6-dev make',
      cores: [{ name: 'host', flags: '', run: './$<' }],
      variables: 'LINK_host =',
      sources: [],
      headers: [],
      libraries: '-lm',
      runs: false,
      ending: '',
    }),
    readme(made, about, {
      files: [],
      build: `\`make\` compiles, \`make check\` builds the self-check, runs it here and prints \`N passed, N failed\`; \`CC=clang\` takes another
compiler. Without make: \`cc -std=c99 -O2 -ffp-contract=off *.c -lm\`.`,
      wiring: `Call \`${made.prefix}_arithmetic_ok\` and, if it is there, \`${made.prefix}_selfcheck\` at power-up, and do not arm anything if they are not
content. Then \`${made.prefix}_start\` once, and at every tick: fill in the inputs, call \`${made.prefix}_tick\`, drive the outputs.
\`${made.prefix}_rest\` gives the commands for as long as the program does not run.`,
      checkedOn: 'where you run `make check`',
    }),
  ],
};
