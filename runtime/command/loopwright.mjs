#!/usr/bin/env node
/** The `loopwright` command: makes sure that what runs was built from the sources as they are, and runs it. */

import { pathToFileURL } from 'node:url';
import { stripVTControlCharacters } from 'node:util';

/** What went wrong with the program itself, not with the sheet or the call. */
const OWN_FAULT = 70;

process.stdout.on('error', (error) => {
  if (error.code === 'EPIPE') process.exit(0);
  throw error;
});

try {
  const { builtCommand, builtEditor, samples } = await import('./build.mjs');
  const { main } = await import(pathToFileURL(await builtCommand()).href);
  process.exitCode = await main(process.argv.slice(2), { builtEditor, samples });
} catch (error) {
  process.exitCode = OWN_FAULT;
  const reason = stripVTControlCharacters(String(error.message));
  if (error.code === 'ERR_MODULE_NOT_FOUND') say(`a package is missing; run npm ci in its folder first (${reason})`);
  else if (error.code !== undefined) say(`it cannot be built; make its folder dist writable and see (${reason})`);
  else say(`its sources cannot be built or started as they are:\n${reason}`);
}

function say(words) {
  process.stderr.write(`loopwright: ${words}\n`);
}
