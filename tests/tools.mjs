/** Makes sure the programs the tests drive are there: installs them where it may, else says what will be skipped. */

import { spawnSync } from 'node:child_process';

const tools = [
  { command: 'gcc', packages: ['gcc', 'libc6-dev'], why: 'compiles the emitted C' },
  { command: 'clang', packages: ['clang'], why: 'compiles the emitted C a second way' },
  { command: 'cppcheck', packages: ['cppcheck'], why: 'reads the emitted C for faults' },
  { command: 'valgrind', packages: ['valgrind'], why: 'watches the memory of the emitted C' },
  { command: 'chromium', packages: ['chromium'], why: 'runs the editor' },
];

const isThere = ({ command }) => spawnSync('sh', ['-c', `command -v ${command}`]).status === 0;
const missing = () => tools.filter((tool) => !isThere(tool));
const mayInstall = process.getuid?.() === 0 && isThere({ command: 'apt-get' });

if (missing().length > 0 && mayInstall) {
  const packages = missing().flatMap((tool) => tool.packages);
  process.stderr.write(`Installing ${packages.join(', ')} …\n`);
  const options = {
    stdio: ['ignore', 'ignore', 'inherit'],
    env: { ...process.env, DEBIAN_FRONTEND: 'noninteractive' },
  };
  spawnSync('apt-get', ['update', '-q'], options);
  spawnSync('apt-get', ['install', '-q', '-y', '--no-install-recommends', ...packages], options);
}

for (const { command, packages, why } of missing()) {
  process.stderr.write(
    `MISSING: ${command} (Debian: ${packages.join(' ')}), which ${why}. Tests that need it are skipped.\n`,
  );
}
if (missing().length > 0 && process.env.CI === 'true') {
  process.stderr.write('Nothing is skipped where CI=true, so this run fails.\n');
  process.exit(1);
}
