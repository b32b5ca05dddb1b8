/** What can be done with files, and the sheets kept in this browser. */
import { useEffect, useRef, useState } from 'react';
import { commandOf, runCommand } from './commands.ts';
import { openKept, openSample } from './document/files.ts';
import type { KeptSheet } from './document/journal.ts';
import { SAMPLES } from './document/samples.ts';
import { plainWords } from './draw/shelf_items.ts';
import { useKeeping, useWorkbench } from './workbench.ts';

const ITEMS = [
  'file.new',
  'file.open',
  'file.save',
  'file.download',
  'file.link',
  'picture.svg',
  'picture.png',
  'file.rename',
  'theme.turn',
  'help.open',
];

export function FileMenu() {
  const workbench = useWorkbench();
  const { kept } = useKeeping();
  const [open, setOpen] = useState(false);
  const [sheets, setSheets] = useState<KeptSheet[]>([]);
  const place = useRef<HTMLDivElement>(null);
  useEffect(() => {
    if (!open) return;
    void workbench.journal.sheets().then(setSheets);
    place.current?.querySelector<HTMLElement>('[role="menuitem"]')?.focus();
    const away = (event: PointerEvent) => {
      if (event.target instanceof Node && place.current?.contains(event.target) !== true) setOpen(false);
    };
    addEventListener('pointerdown', away);
    return () => removeEventListener('pointerdown', away);
  }, [open, workbench]);
  const onKeyDown = (event: React.KeyboardEvent) => {
    const items = [...(place.current?.querySelectorAll<HTMLElement>('[role="menuitem"]') ?? [])];
    const here = items.indexOf(document.activeElement as HTMLElement);
    const to = { ArrowDown: here + 1, ArrowUp: here - 1, Home: 0, End: items.length - 1 }[event.key];
    if (event.key === 'Escape') {
      setOpen(false);
      place.current?.querySelector('button')?.focus();
    } else if (to !== undefined) items[(to + items.length) % items.length]?.focus();
    else return;
    event.preventDefault();
    event.stopPropagation();
  };
  const choose = (act: () => void) => () => {
    setOpen(false);
    act();
  };
  const others = sheets.filter((sheet) => sheet.id !== kept?.id).slice(0, 8);
  return (
    // biome-ignore lint/a11y/noStaticElementInteractions: keys of the menu inside it
    <div className="menu" ref={place} onKeyDown={open ? onKeyDown : undefined}>
      <button type="button" aria-haspopup="menu" aria-expanded={open} aria-label="File" onClick={() => setOpen(!open)}>
        ▾
      </button>
      {open && (
        <div role="menu" aria-label="File" className="menu_items">
          {ITEMS.map((id) => {
            const command = commandOf(id);
            return (
              <button type="button" role="menuitem" key={id} onClick={choose(() => runCommand(workbench, id))}>
                {command?.name} {command?.keys?.[0] !== undefined && <kbd>{command.keys[0]}</kbd>}
              </button>
            );
          })}
          {SAMPLES.length > 0 && <hr />}
          {SAMPLES.map((name) => (
            <button type="button" role="menuitem" key={name} onClick={choose(() => void openSample(workbench, name))}>
              <em>{plainWords(name)}</em> <small>sample</small>
            </button>
          ))}
          {others.length > 0 && <hr />}
          {others.map((sheet) => (
            <button
              type="button"
              role="menuitem"
              key={sheet.id}
              onClick={choose(() => void openKept(workbench, sheet.id))}
            >
              <em>{sheet.name}</em> <small>{new Date(sheet.opened).toLocaleDateString('en-GB')}</small>
            </button>
          ))}
        </div>
      )}
    </div>
  );
}
