/** The page that goes along with the C: how to build it, what the self-check says, and the cautions. */
import type { Made, Proof } from './ship.worker.ts';

/** Shown beside the download and written into what is downloaded. */
export const CAUTIONS: readonly string[] = [
  'This is control software, not a certified safety function. Nothing in it may be relied on to protect people.',
  'Local codes and a qualified person decide what guards, stops and interlocks the machine needs besides.',
  'Before the first power to an actuator: wheels off the ground or the machine held, limits low, a hand on the power, everyone clear. A stop must work without this program.',
];

export function readme(name: string, title: string, made: Made, proof: Proof | undefined): string {
  const lines = [
    `${title === '' ? name : title}: exported by Loopwright`,
    '',
    `${name}.c and ${name}.h are C99. Fill in ${name}_in_t, call ${name}_tick once every ${made.tick * 1000} ms, and give ${name}_out_t to the actuators.`,
    `Memory: ${made.memoryBytes} bytes an instance. Inputs: ${made.inputs.join(', ') || 'none'}. Outputs: ${made.outputs.join(', ') || 'none'}.`,
    '',
    'Build with one rounding an operation, or the bits are not those of the simulation:',
    '',
    `    cc -std=c99 -O2 -ffp-contract=off -c ${name}.c`,
  ];
  if (proof !== undefined)
    lines.push(
      '',
      `selfcheck.c replays the raw inputs of the run ${proof.run} and compares ${proof.values} values at each of ${proof.ticks} ticks:`,
      '',
      `    cc -std=c99 -O2 -ffp-contract=off ${name}.c selfcheck.c -o selfcheck -lm`,
      '    ./selfcheck',
      '',
      `It prints "${proof.ticks * proof.values} passed, 0 failed" and exits with status 0 if this machine computes as the simulation did.`,
    );
  lines.push('', 'Cautions', '', ...CAUTIONS.map((caution) => `- ${caution}`), '');
  return lines.join('\n');
}
