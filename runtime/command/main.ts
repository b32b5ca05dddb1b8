/** The command line: arguments become options, options go to a verb, its answer is printed. */

import { Command, CommanderError, Option } from 'commander';
import { targets } from '../../compiler/c/targets/targets.ts';
import { methods } from '../../compiler/linear/discretise.ts';
import packageFile from '../../package.json' with { type: 'json' };
import { type Answer, printed, Refusal, refusedCall } from './answer.ts';
import { settingArgument, wordList } from './arguments.ts';
import { type House, serve } from './serve.ts';
import { bench } from './verbs/bench.ts';
import { check } from './verbs/check.ts';
import { discretise } from './verbs/discretise.ts';
import { emit } from './verbs/emit.ts';
import { linear } from './verbs/linear.ts';
import { locus } from './verbs/locus.ts';
import { margins, sheetMarginsAt } from './verbs/margins.ts';
import { variationArgument } from './verbs/margins_band.ts';
import { response, sheetResponse } from './verbs/response.ts';
import { run } from './verbs/run.ts';
import { schedule } from './verbs/schedule.ts';

/** Runs the command with its arguments and prints; the answer is the exit status. */
export async function main(words: readonly string[], house: House): Promise<number> {
  const json = words.includes('--json');
  const written: string[] = [];
  const print = (answer: Answer): number => {
    const { output, errors } = printed(answer, json);
    process.stderr.write(errors);
    process.stdout.write(output);
    return answer.status;
  };
  let answer: Answer | undefined;
  const verb = program(house, json, (given) => {
    answer = given;
  });
  for (const command of [verb, ...verb.commands]) {
    command.exitOverride().configureOutput({ writeErr: (text) => written.push(text) });
  }
  try {
    await verb.parseAsync(words, { from: 'user' });
  } catch (error) {
    if (error instanceof Refusal) return print(refusedCall(error));
    if (!(error instanceof CommanderError)) {
      print(refusedCall(ownFault(error)));
      return OWN_FAULT;
    }
    if (error.exitCode === 0) return 0;
    return print(refusedCall(new Refusal(usage(error, written, words))));
  }
  return answer === undefined ? 0 : print(answer);
}

function program(house: House, json: boolean, give: (answer: Answer) => void): Command {
  const command = new Command('loopwright')
    .description('Checks, runs and exports control loops drawn as sheets.')
    .version(packageFile.version, '--version')
    .option('--json', 'print the result as one JSON object')
    .helpCommand(false)
    .addHelpText('after', EPILOGUE);
  const verb = (name: string, summary: string) =>
    command.command(name).description(summary).option('--json', 'print the result as one JSON object');

  verb('check', 'compiles a sheet and says what is wrong, doubtful or could be better')
    .argument('<sheet>', 'NAME.sheet.json')
    .action((sheet: string) => give(check(sheet)));

  verb('run', 'runs a sheet on the bench and records ports')
    .argument('<sheet>', 'NAME.sheet.json')
    .option('--run <name>', "one of the sheet's runs; needed where it has several")
    .option('--for <time>', 'how long, such as 10s, instead of what the run says')
    .option('--set <block.setting=value>', 'a setting before compiling; may be given often', collect, [])
    .option('--record <ports>', 'what to record, separated by commas, instead of what the run says', wordList)
    .option('--csv <file>', 'write the rows to a file; - is standard output')
    .option('--bits', 'write real numbers as raw IEEE 754 patterns in hexadecimal')
    .addOption(new Option('--engine <engine>', 'what runs it').choices(['wasm', 'interpreter']).default('wasm'))
    .action(async (sheet: string, given) =>
      give(await run(sheet, { ...given, set: given.set.map(settingArgument), json })),
    );

  verb('bench', 'runs every run of a sheet and judges what it expects')
    .argument('<sheet>', 'NAME.sheet.json')
    .action(async (sheet: string) => give(await bench(sheet)));

  verb('emit', 'writes the controller as C')
    .argument('<sheet>', 'NAME.sheet.json')
    .requiredOption('--to <folder>', 'where the files go')
    .option('--target <name>', 'what it is for', 'plain')
    .addOption(
      new Option('--number <type>', "the type of real numbers, instead of the sheet's").choices(['f32', 'f64']),
    )
    .option('--selfcheck <run>', 'add a program that replays this run and compares every bit')
    .addHelpText('after', `\nTargets:\n${targets.map(({ name, about }) => `  ${name.padEnd(10)}${about}`).join('\n')}`)
    .action(async (sheet: string, given) => give(await emit(sheet, given)));

  verb('schedule', 'says which task runs on which tick, in what order, with its work')
    .argument('<sheet>', 'NAME.sheet.json')
    .action((sheet: string) => give(schedule(sheet)));

  verb('linear', 'gives the exact linear model between ports of a sheet, about a point of rest')
    .argument('<sheet>', 'NAME.sheet.json')
    .requiredOption('--from <ports>', 'what is excited, separated by commas: inputs or outputs of blocks', wordList)
    .requiredOption('--to <ports>', 'what is watched, separated by commas', wordList)
    .option(
      '--cut <port>',
      'a wire that is cut, by the input it feeds or the output it comes from; may be given often',
      collect,
      [],
    )
    .option('--hold <port=value>', 'what is held at the point of rest; may be given often', collect, [])
    .option('--set <block.setting=value>', 'a setting before compiling; may be given often', collect, [])
    .action((sheet: string, given) => give(linear(sheet, { ...given, ...sheetOptions(given) })));

  const transfer = (command: Command) =>
    command
      .option('--num <list>', 'numerator: coefficients in descending powers, with commas between')
      .option('--den <list>', 'denominator, likewise');

  transfer(verb('margins', 'says how far a loop is from the edge of stability'))
    .option('--dt <time>', 'time between samples, such as 5ms: the coefficients are those of powers of z')
    .option('--delay <time>', 'dead time in the loop')
    .argument('[sheet]', 'NAME.sheet.json, instead of a transfer function')
    .option(
      '--cut <port>',
      'with a sheet: the wire its loop is opened at, by the input it feeds or the output it comes from; others after it are cut too; without it, every loop found',
      collect,
      [],
    )
    .option('--hold <port=value>', 'with a sheet: what is held at the point of rest; may be given often', collect, [])
    .option('--set <block.setting=value>', 'with a sheet: a setting before compiling; may be given often', collect, [])
    .option(
      '--vary <setting=band>',
      "with a sheet: a setting that may be off, such as 'drive.scale=±20%'; may be given often",
      collect,
      [],
    )
    .addHelpText('after', MARGINS)
    .action((sheet: string | undefined, given) => {
      if (sheet === undefined) give(margins(given));
      else give(sheetMarginsAt(sheet, given.cut, sheetOptions(given), given.vary.map(variationArgument)));
    });

  transfer(verb('response', 'gives the frequency response'))
    .option('--dt <time>', 'time between samples, such as 5ms: the coefficients are those of powers of z')
    .option('--delay <time>', 'dead time')
    .option('--at <frequencies>', 'rad/s, or with a unit such as 2Hz; commas between')
    .argument('[sheet]', 'NAME.sheet.json, instead of a transfer function')
    .option('--from <port>', 'with a sheet: what is excited, an input or output of a block')
    .option('--to <port>', 'with a sheet: what is watched')
    .option('--cut <port>', 'with a sheet: a wire that is cut; may be given often', collect, [])
    .option('--hold <port=value>', 'with a sheet: what is held at the point of rest; may be given often', collect, [])
    .option('--set <block.setting=value>', 'with a sheet: a setting before compiling; may be given often', collect, [])
    .action((sheet: string | undefined, given) => {
      if (sheet === undefined) give(response(given));
      else {
        const from = [needed('--from', given.from, 'a port, such as --from outer.wanted')];
        const to = [needed('--to', given.to, 'a port, such as --to body.lean')];
        give(sheetResponse(sheet, { from, to, cut: given.cut, ...sheetOptions(given) }, given.at));
      }
    });

  transfer(verb('discretise', 'makes a system in s answer once a sample, in powers of z'))
    .option('--dt <time>', 'time between samples, such as 5ms')
    .addOption(new Option('--method <method>', 'how').choices([...methods]).default('tustin'))
    .option('--prewarp <frequency>', 'where tustin is to be exact, such as 10rad/s or 2Hz')
    .option('--at <frequencies>', 'compare it there with the design; rad/s, or with a unit such as 2Hz; commas between')
    .action((given) => give(discretise(given)));

  transfer(verb('locus', 'gives the closed-loop poles for each gain, and where they meet and cross the edge'))
    .option('--gains <list>', 'what the system is multiplied by, with commas between')
    .option('--dt <time>', 'time between samples, such as 5ms: the coefficients are those of powers of z')
    .action((given) => give(locus(given)));

  verb('motion', "derives a mechanism's equations of motion from its energies, as a plant block")
    .argument('<model>', 'NAME.motion.json')
    .option('--to <file>', 'NAME.block, instead of printing it')
    .action(async (model: string, given) => {
      const { motion } = await import('./verbs/motion.ts');
      give(motion(model, given));
    });

  verb('serve', 'opens the editor to a browser on this machine').action(async () => {
    const say = (address: string) => {
      const line = json ? JSON.stringify({ ok: true, address }) : `The editor is at ${address} (Ctrl+C stops it)`;
      process.stdout.write(`${line}\n`);
    };
    await serve(house, say);
  });
  return command;
}

const MARGINS = `
The system is L, what comes back with its sign turned, over what is put in: the loop is closed by 1/(1 + L), and −1 is critical.`;

const EPILOGUE = `
A time takes a unit (5ms, 10s); a bare number is SI.
Exit status: 0 fine; 1 the sheet, its numbers or an expectation is wrong; 2 the call is wrong.`;

/** What the process answers when the program itself is at fault. */
const OWN_FAULT = 70;

function ownFault(error: unknown): Refusal {
  const { message, stack } = error instanceof Error ? error : { message: String(error), stack: undefined };
  const trace = process.env.LOOPWRIGHT_TRACE === undefined ? '' : `\n${stack}`;
  return new Refusal(
    `this is a fault of the program, not of the sheet (${message}); please report it with the sheet, and with what LOOPWRIGHT_TRACE=1 shows${trace}`,
  );
}

/** What is held and set, of the options of a linear verb. */
function sheetOptions(given: { readonly hold: readonly string[]; readonly set: readonly string[] }) {
  return { hold: given.hold, set: given.set.map(settingArgument) };
}

/** An option that a sheet needs. */
function needed(option: string, value: string | undefined, such: string): string {
  if (value === undefined) throw new Refusal(`${option} is missing; with a sheet, name ${such}`);
  return value;
}

function collect(value: string, before: readonly string[]): readonly string[] {
  return [...before, value];
}

/** A usage error in one line with where to look. */
function usage(error: CommanderError, written: readonly string[], words: readonly string[]): string {
  const verb = words.find((word) => !word.startsWith('-'));
  const known = error.code !== 'commander.unknownCommand' && verb !== undefined;
  const help = `see npx loopwright ${known ? `${verb} ` : ''}--help`;
  if (error.code === 'commander.help') return `a verb is missing; ${help}`;
  const said = written
    .join(' ')
    .replace(/^error: /, '')
    .replaceAll(/\s+/g, ' ')
    .trim();
  return `${said || error.message}; ${help}`;
}
