/** `serve`: the editor at one fixed address on this machine. */

import { once } from 'node:events';
import { type Answer, Refusal } from './answer.ts';
import { editorServer } from './editor_server.ts';

/** Fixed: a browser keeps work by address, so at another one it would seem gone. */
export const EDITOR_PORT = 4816;
const HOST = '127.0.0.1';

export interface House {
  /** The folder of the built editor, built first if its sources are newer; undefined where there is no editor. */
  readonly builtEditor: () => Promise<string | undefined>;
  /** The folder of the samples. */
  readonly samples: string;
}

/** Serves until the process is asked to stop. `say` is called once, when the editor can be opened. */
export async function serve(house: House, say: (address: string) => void): Promise<Answer> {
  const editor = await house.builtEditor();
  if (editor === undefined) throw new Refusal('this copy has no editor to serve; get the whole project');
  const server = editorServer([
    ['/samples/', house.samples],
    ['/', editor],
  ]);
  server.listen(EDITOR_PORT, HOST);
  try {
    await once(server, 'listening');
  } catch (error) {
    const taken = error instanceof Error && 'code' in error && error.code === 'EADDRINUSE';
    if (!taken) throw error;
    throw new Refusal(
      `port ${EDITOR_PORT} of ${HOST} is taken, perhaps by another editor that is already running; ` +
        `open http://${HOST}:${EDITOR_PORT}/ or stop the program that has it (no other port is used: work is kept by address)`,
    );
  }
  const address = `http://${HOST}:${EDITOR_PORT}/`;
  say(address);
  await new Promise<void>((resolve) => {
    process.once('SIGINT', () => resolve());
    process.once('SIGTERM', () => resolve());
  });
  server.closeAllConnections();
  server.close();
  return { status: 0, data: { address } };
}
