#!/usr/bin/env node
/** The `loopwright` command: makes sure that what runs was built from the sources as they are, and runs it. */

import { pathToFileURL } from 'node:url';

/** What went wrong with the program itself, not with the sheet or the call. */
const OWN_FAULT = 70;

process.stdout.on('error', (error) => {
  if (error.code === 'EPIPE') process.exit(0);
  throw error;
});

try {
  const { builtCommand, builtEditor } = await import('./build.mjs');
  const { main } = await import(pathToFileURL(await builtCommand()).href);
  process.exitCode = await main(process.argv.slice(2), { builtEditor });
} catch (error) {
  process.exitCode = OWN_FAULT;
  if (error.code === 'ERR_MODULE_NOT_FOUND') {
    process.stderr.write(`loopwright: a package is missing; run npm ci in its folder first (${error.message})\n`);
  } else if (error.code === 'EACCES' || error.code === 'EROFS' || error.code === 'ENOSPC') {
    process.stderr.write(
      `loopwright: the program could not be built; make its folder dist writable (${error.message})\n`,
    );
  } else {
    process.stderr.write(`loopwright: this is a fault of the program, please report it\n${error.stack}\n`);
  }
}
