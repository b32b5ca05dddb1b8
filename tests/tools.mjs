/** Makes sure the programs the tests drive are there: installs them where it may, else says what will be skipped. */

import { spawnSync } from 'node:child_process';

const tools = [
  { command: 'git', packages: ['git'], why: 'says which files belong to the project' },
  { command: 'gcc', packages: ['gcc', 'libc6-dev'], why: 'compiles the emitted C' },
  { command: 'clang', packages: ['clang'], why: 'compiles the emitted C a second way' },
  { command: 'cppcheck', packages: ['cppcheck'], why: 'reads the emitted C for faults' },
  { command: 'valgrind', packages: ['valgrind'], why: 'watches the memory of the emitted C' },
  { command: 'g++', packages: ['g++'], why: 'compiles the example for hobby boards as they do' },
  { command: 'make', packages: ['make'], why: 'builds what is emitted for a target' },
  // Without recommended packages: those of the cross compilers are C++ libraries of gigabytes.
  {
    command: 'arm-none-eabi-gcc',
    packages: ['gcc-arm-none-eabi', 'libnewlib-arm-none-eabi'],
    why: 'compiles for Cortex-M (0.8 GB installed)',
  },
  { command: 'qemu-system-arm', packages: ['qemu-system-arm'], why: 'runs images for Cortex-M' },
  {
    command: 'riscv64-unknown-elf-gcc',
    packages: ['gcc-riscv64-unknown-elf', 'picolibc-riscv64-unknown-elf'],
    why: 'compiles for RISC-V (1.2 GB installed)',
  },
  { command: 'qemu-system-riscv32', packages: ['qemu-system-misc'], why: 'runs images for RISC-V (0.2 GB installed)' },
  { command: 'avr-gcc', packages: ['gcc-avr', 'avr-libc'], why: 'compiles for AVR (0.1 GB installed)' },
  { command: 'simavr', packages: ['simavr'], why: 'runs images for AVR' },
  { command: 'zip', packages: ['zip'], why: 'packs co-simulation units' },
  { command: 'unzip', packages: ['unzip'], why: 'looks into packed co-simulation units' },
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
