/** A computer with an operating system of the POSIX kind: a loop of fixed rate with absolute sleeps, and its timing. */

import { channelsVariable, loopFiles, loopHeaders, loopMachinery, loopSources, type Surroundings } from './loop.ts';
import { makefile } from './makefile.ts';
import { posixBoard } from './posix_board.ts';
import { posixTasks } from './posix_tasks.ts';
import { readme } from './readme.ts';
import { type Made, type Target, textFile } from './target.ts';

const about = {
  about: 'POSIX computers',
  cautions: [
    'An operating system promises no time: look at the lateness that the loop prints at its end, under the load it will have, before anything is armed.',
    'If the process is killed or the computer hangs, every actuator keeps what it was told last: let the drives themselves fall to rest when commands stop coming.',
    'Nothing here feeds a watchdog or guards the supply.',
  ],
};

const around: Surroundings = {
  arguments: true,
  missed: [
    'Waits until a tick is due. *behind is the number of ticks that were missed since the one before: they are left out and',
    'counted, and the loop goes on at the next one in time. Gives false when the loop is to end.',
  ],
  declares: `
/* Takes the words of the command: how many ticks to run, endless if there are none. */
void board_arguments(int argc, char **argv);

/* Says why the loop cannot run; the program then ends with a status of 1. */
void board_refuse(const char *why);

/* Puts this thread so many steps of priority below the loop's, if that has one. */
void board_yield_to(uint32_t steps);

/* Keeps all threads on one processor, so that they interrupt each other as on a board. Gives false if that cannot be. */
bool board_one_processor(void);
`,
};

export const posix: Target = {
  name: 'posix',
  ...about,
  machine: 'a POSIX system, C99',
  numbers: ['f32', 'f64'],
  room: Number.POSITIVE_INFINITY,
  eachNumber: true,
  machinery: loopMachinery(undefined, [], around),
  around: (made) => [
    ...(made.program.layers === undefined
      ? loopFiles(made, around)
      : loopFiles(made, around, posixTasks(made, made.program.layers, around))),
    textFile('board.c', posixBoard),
    makefile(made, {
      compiler: 'gcc',
      size: 'size',
      packages: 'gcc libc6-dev make',
      cores: [{ name: 'host', flags: '', run: './$<' }],
      variables: `LINK_host =\n${channelsVariable}`,
      sources: loopSources,
      headers: loopHeaders,
      flags: '-pthread',
      libraries: '-lm',
      runs: true,
      ending: '',
    }),
    page(made),
  ],
};

function page(made: Made) {
  const { file, program } = made;
  const tasks =
    program.layers === undefined
      ? ''
      : `

The sheet is layered: the thread of the tick reads the sensors, hands over, runs the task of every tick and drives the actuators; each
slower task is a thread of a lower priority, which begins when every faster one released with it has ended. All are kept on one
processor, as on a board. A task that is still running when it is due again is left out and counted, and told of at the end.`;
  return readme(made, about, {
    files: [
      [
        'run.c',
        `the loop: read, compute, drive${program.layers === undefined ? '' : ', and a thread for each slower task'}`,
      ],
      ['board.c', 'time by the monotonic clock, priority, locked memory, and what is told at the end'],
      ['channels.h', 'what you write for your sensors and actuators, in a file `channels.c`'],
      ['channels_none.c', 'stands in for it until then'],
    ],
    build: `\`make\` builds \`build/host/${file}\` and \`build/host/selfcheck\`; \`make check\` runs the second, which only checks, and prints
\`N passed, N failed\`. The first runs the same check when it starts, with the actuators at rest, and does not enter its loop if a
bit differs.

\`build/host/${file} 2000\` runs 2000 ticks; without a number it runs until SIGINT (Ctrl+C), SIGTERM or SIGHUP. At the end every
actuator is put to rest, and then the lateness of the ticks (least, mean, most) and the ticks that were missed are printed.`,
    wiring: `Write \`channels.c\` after \`channels.h\`. The deadlines are absolute, so that lateness does not add up; a tick whose time has
passed is left out, told to \`channels_late\` and never made up for by a burst.

The loop asks for real-time priority (SCHED_FIFO, \`-DPRIORITY=80\` at build time) and for its memory to be locked, and says so
when it may not have them. On most systems the user needs leave for both (\`ulimit -r\`, \`ulimit -l\`).${tasks}`,
    checkedOn: 'where you run `make check`, and again at every start of the loop',
  });
}
