/** Key events to commands, by the region they happen in; bare keys are commands, never text. */
import { COMMANDS, type Command } from './commands.ts';
import { regionOf } from './focus.ts';
import { type Region, say } from './session.ts';
import type { Workbench } from './workbench.ts';

/** What is printed on keys whose character depends on Shift and on the layout. */
const PRINTED: Readonly<Record<string, string>> = { Period: '.', Comma: ',', Slash: '/' };

/** The names an event may go by in the table: `Ctrl+Z`, `Shift+2`, `/`. */
export function namesOf(
  event: Pick<KeyboardEvent, 'key' | 'code' | 'ctrlKey' | 'metaKey' | 'altKey' | 'shiftKey'> & {
    getModifierState?(key: string): boolean;
  },
): string[] {
  const graph = event.getModifierState?.('AltGraph') === true;
  const held = `${(event.ctrlKey || event.metaKey) && !graph ? 'Ctrl+' : ''}${event.altKey && !graph ? 'Alt+' : ''}`;
  const shift = event.shiftKey ? 'Shift+' : '';
  const printed = event.code.startsWith('Digit') ? event.code.slice(5) : PRINTED[event.code];
  const key = event.key === ' ' ? 'Space' : event.key;
  const letter = key.length === 1 && key.toLowerCase() !== key.toUpperCase();
  const named = key.length > 1;
  const names = [
    `${held}${letter || named ? shift : ''}${letter && held === '' && shift === '' ? key.toLowerCase() : letter ? key.toUpperCase() : key}`,
  ];
  if (printed !== undefined && `${held}${shift}${printed}` !== names[0]) names.push(`${held}${shift}${printed}`);
  return names;
}

export function installKeys(target: Window, workbench: Workbench): () => void {
  const table = new Map<string, Command[]>();
  for (const command of COMMANDS)
    for (const key of command.keys ?? []) table.set(key, [...(table.get(key) ?? []), command]);
  const onKey = (event: KeyboardEvent) => {
    if (event.defaultPrevented || event.isComposing) return;
    const text = isText(event.target);
    const region = keyRegion(event.target);
    for (const name of namesOf(event)) {
      const command = (table.get(name) ?? []).find(
        (one) => (!text || one.inText === true) && (one.region === undefined || one.region === region),
      );
      if (command === undefined) continue;
      event.preventDefault();
      const can = command.can(workbench);
      if (can === true) command.run(workbench);
      else say(workbench.session, can);
      return;
    }
  };
  target.addEventListener('keydown', onKey);
  return () => target.removeEventListener('keydown', onKey);
}

/** Whether typing there writes text. */
export function isText(target: EventTarget | null): boolean {
  return (
    target instanceof Element &&
    target.closest('input:not([type="range"]), textarea, select, [contenteditable="true"], .nokey') !== null
  );
}

/** The paper's keys act on the drawing itself, not on a button or field that lies on it; with nothing focused they act too. */
function keyRegion(target: EventTarget | null): Region | undefined {
  if (target instanceof Element && (target.matches('.drawing') || target === document.body)) return 'paper';
  const region = regionOf(target);
  return region === 'paper' ? undefined : region;
}
