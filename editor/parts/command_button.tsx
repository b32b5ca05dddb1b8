/** A button that runs a command: says its name, keys, what it would act on, and why it cannot be used now. */
import type { ReactNode } from 'react';
import { commandOf, runCommand } from '../commands.ts';
import type { State } from '../document/history.ts';
import { useHistory, useSession, useWorkbench } from '../workbench.ts';

interface Properties {
  readonly id: string;
  /** What exactly it would do, from what was done: `move tilt`. */
  readonly what?: (state: State) => string | undefined;
  readonly children: ReactNode;
}

export function CommandButton({ id, what, children }: Properties) {
  const workbench = useWorkbench();
  const state = useHistory();
  useSession((session) => session);
  const command = commandOf(id);
  if (command === undefined) return null;
  const can = command.can(workbench);
  const about = what?.(state);
  const name = about === undefined ? command.name : `${command.name}: ${about}`;
  const keys = command.keys?.[0];
  return (
    <button
      type="button"
      aria-label={name}
      title={`${can === true ? name : can}${keys === undefined ? '' : ` (${keys})`}`}
      aria-disabled={can !== true}
      onClick={() => runCommand(workbench, id)}
    >
      {children}
    </button>
  );
}
