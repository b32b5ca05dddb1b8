/** cppcheck with its MISRA C:2012 addon, and the warnings that go with it. */

import { spawnSync } from 'node:child_process';

/** What is found in one file of a folder: `RULE LINE` each. */
export function misraFindings(folder: string, file: string): string[] {
  const words = ['--std=c99', '--quiet', '--addon=misra', '--enable=warning,performance,portability', '--inconclusive'];
  // cppcheck takes no configuration at all where an `#error` depends on what only a compiler defines, and says nothing.
  const defined = ['-DFLT_EVAL_METHOD=0', '-DFLT_MANT_DIG=24', '-DFLT_MAX_EXP=128', '-DCHAR_BIT=8'];
  const run = spawnSync('cppcheck', [...words, ...defined, '--template={id} {line}', file], {
    cwd: folder,
    encoding: 'utf8',
  });
  return run.stderr.split('\n').filter((line) => /^\S+ \d+$/.test(line));
}
