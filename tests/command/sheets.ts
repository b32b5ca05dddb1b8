/** A small machine whose blocks stand on its own shelf, and how the tests run the real command on it. */

import { spawn, spawnSync } from 'node:child_process';
import { mkdtempSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { blankSheet, type Sheet } from '../../compiler/sheet/sheet.ts';

export const launcher = fileURLToPath(new URL('../../runtime/command/loopwright.mjs', import.meta.url));

/** A cart pushed along a track towards a place, by a force in proportion to how far it is off. */
export const cart: Sheet = {
  ...blankSheet('A cart on a track'),
  tick: '10 ms',
  blocks: {
    cart: { is: 'cart' },
    want: { is: 'want' },
    law: { is: 'law', every: 2, set: { gain: '3 N/m' } },
    sense: { is: 'sense' },
    drive: { is: 'drive' },
  },
  wires: {
    'sense.truth': 'cart.x',
    'law.x': 'sense.y',
    'law.want': 'want.y',
    'drive.u': 'law.f',
    'cart.force': 'drive.truth',
  },
  shelf: {
    cart: `block cart
  "A cart with drag."
in force: N = 0 N
out x: m
set mass: kg = 1 kg above 0
set drag: N s/m = 2
state p: m = 0
state v: m/s = 0
d/dt p = v
d/dt v = (force - drag * v) / mass
x = p
`,
    want: 'block want\n  "Where it is to stand."\nout y: m\nset place: m = 1\ny = place\n',
    law: `block law
  "Pulls towards a place."
in x: m
in want: m
out f: N
set gain: N/m = 1
f = gain * (want - x)
`,
    sense: `block sense
  "Reads a place."
in truth: m
out y: m
channel in raw: real
raw = bare(truth)
y = raw * 1 m
`,
    drive: `block drive
  "Gives a force."
in u: N
out truth: N
channel out raw: real
raw = bare(u)
truth = raw * 1 N
`,
  },
  runs: {
    go: {
      for: '3 s',
      record: ['cart.x', 'law.f'],
      nudges: { shove: { at: '1 s', for: '0.1 s', port: 'cart.force', add: '5 N' } },
      expect: { there: 'abs(cart.x - want.y) < 0.2 m once until 3 s', slow: 'abs(cart.v) < 5 m/s always' },
    },
  },
};

/** Writes a sheet, or any text, into a folder of its own and gives its path. */
export function fileOf(content: Sheet | string, name = 'cart.sheet.json'): string {
  const file = join(mkdtempSync(join(tmpdir(), 'loopwright-')), name);
  writeFileSync(file, typeof content === 'string' ? content : JSON.stringify(content));
  return file;
}

export interface Ran {
  readonly status: number | null;
  readonly output: string;
  readonly errors: string;
}

/** Runs the command to its end. */
export function command(...words: string[]): Ran {
  const { status, stdout, stderr } = spawnSync(process.execPath, [launcher, ...words], {
    encoding: 'utf8',
    maxBuffer: 1e8,
  });
  return { status, output: stdout, errors: stderr };
}

/** Runs the command with `--json` and reads the one object it must print. */
export function commandJson<T>(...words: string[]): T & { ok: boolean; status: number | null; errors: string } {
  const { status, output, errors } = command(...words, '--json');
  if (!output.endsWith('}\n') || output.trimEnd().includes('\n')) throw new Error(`not one JSON object: ${output}`);
  return { ...(JSON.parse(output) as T & { ok: boolean }), status, errors };
}

/** Starts the command and waits until it has printed something. */
export async function started(...words: string[]) {
  const child = spawn(process.execPath, [launcher, ...words], { stdio: ['ignore', 'pipe', 'pipe'] });
  const first = await new Promise<string>((resolve) => {
    let said = '';
    const hear = (part: Buffer) => {
      said += part.toString();
      if (said.includes('\n')) resolve(said);
    };
    child.stdout.on('data', hear);
    child.stderr.on('data', hear);
    child.on('exit', () => resolve(said));
  });
  const ended = new Promise<number | null>((resolve) => child.on('exit', (status) => resolve(status)));
  return { child, first, ended };
}
