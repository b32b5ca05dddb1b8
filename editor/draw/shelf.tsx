/** The shelf line: eleven purposes in the order signals flow; choosing one unrolls a strip of specimen cards under it. */
import { useEffect, useRef } from 'react';
import { focusPaper } from '../focus.ts';
import { useSession, useSheet, useWorkbench } from '../workbench.ts';
import { addFromShelf } from './adding.ts';
import { CardPicture } from './card.tsx';
import { paperPoint } from './connect.ts';
import { newBlock } from './fitting.ts';
import { GRID, specimen } from './scene.ts';
import { PURPOSES, type ShelfItem, shelfItems } from './shelf_items.ts';

export function ShelfLine() {
  const { session } = useWorkbench();
  const open = useSession((state) => state.shelf);
  const line = useRef<HTMLDivElement>(null);
  const onKeyDown = (event: React.KeyboardEvent) => {
    const words = [...(line.current?.querySelectorAll<HTMLElement>('.purpose') ?? [])];
    const here = words.indexOf(document.activeElement as HTMLElement);
    const to = { ArrowRight: here + 1, ArrowLeft: here - 1, Home: 0, End: words.length - 1 }[event.key];
    if (here < 0 || to === undefined) return;
    event.preventDefault();
    words[Math.max(0, Math.min(words.length - 1, to))]?.focus();
  };
  return (
    <>
      <div className="shelf_line" ref={line} role="toolbar" aria-label="Purposes" onKeyDown={onKeyDown}>
        {PURPOSES.map(([shelf, word], index) => (
          <button
            type="button"
            key={shelf}
            className="purpose"
            tabIndex={open === shelf || (open === undefined && index === 0) ? 0 : -1}
            aria-expanded={open === shelf}
            onClick={() => session.setState({ shelf: open === shelf ? undefined : shelf })}
          >
            {word}
          </button>
        ))}
      </div>
      {open !== undefined && <Strip shelf={open} />}
    </>
  );
}

function Strip({ shelf }: { shelf: string }) {
  const { session } = useWorkbench();
  const sheet = useSheet();
  const strip = useRef<HTMLDivElement>(null);
  const items = shelfItems(sheet).filter((item) => item.shelf === shelf);
  // biome-ignore lint/correctness/useExhaustiveDependencies: another purpose starts at its first card
  useEffect(() => {
    strip.current?.scrollTo({ left: 0 });
  }, [shelf]);
  return (
    <div
      className="specimens"
      role="toolbar"
      aria-label="Specimens"
      ref={strip}
      onKeyDown={(event) => {
        if (event.key !== 'Escape') return;
        session.setState({ shelf: undefined });
        event.preventDefault();
      }}
    >
      {items.map((item) => (
        <Specimen key={item.name} item={item} />
      ))}
      {items.length === 0 && (
        <p className="quiet">
          {shelf === 'mine' ? 'Groups you make and block texts you paste stand here.' : 'Nothing stands here yet.'}
        </p>
      )}
    </div>
  );
}

/** A real card; a click puts it beside the focus mark, dragging it puts it where it is let go. */
function Specimen({ item }: { item: ShelfItem }) {
  const workbench = useWorkbench();
  const sheet = useSheet();
  const card = specimen(sheet, item.label, newBlock(sheet, item.name));
  const ghost = useRef<HTMLElement | undefined>(undefined);
  const onPointerDown = (press: React.PointerEvent<HTMLButtonElement>) => {
    if (press.button !== 0 || press.pointerType === 'touch') return;
    const button = press.currentTarget;
    const strip = button.getBoundingClientRect();
    const onMove = (event: PointerEvent) => {
      if (ghost.current === undefined && Math.hypot(event.clientX - press.clientX, event.clientY - press.clientY) < 6)
        return;
      ghost.current ??= lift(button);
      // Once it is out of the strip, the strip is out of the way.
      if (event.clientY > strip.bottom) workbench.session.setState({ shelf: undefined });
      ghost.current.style.translate = `${event.clientX - card.width / 2}px ${event.clientY - card.height / 2}px`;
    };
    const onUp = (event: PointerEvent) => {
      removeEventListener('pointermove', onMove);
      removeEventListener('pointerup', onUp);
      if (ghost.current === undefined) return;
      ghost.current.remove();
      if (event.target instanceof Element && event.target.closest('.canvas') !== null) {
        const [x, y] = paperPoint(workbench, event.clientX, event.clientY);
        const at = [snapTo(x - card.width / 2), snapTo(y - card.height / 2)] as const;
        addFromShelf(workbench, item.name, { at, ...lineUnder(event) });
      }
      // The click that ends a drag is not a click on the specimen.
      setTimeout(() => {
        ghost.current = undefined;
      });
    };
    addEventListener('pointermove', onMove);
    addEventListener('pointerup', onUp);
  };
  return (
    <button
      type="button"
      className="specimen"
      onPointerDown={onPointerDown}
      onClick={() => {
        if (ghost.current !== undefined) return;
        workbench.session.setState({ shelf: undefined });
        addFromShelf(workbench, item.name);
        focusPaper();
      }}
    >
      <span className="unseen">Add {item.label}: </span>
      <CardPicture card={card} />
      <span className="about">{item.purpose}</span>
    </button>
  );
}

/** The line a card is dropped on, to be put into. */
function lineUnder(event: PointerEvent): { from?: { on: 'line'; at: string } } {
  const under = document
    .elementsFromPoint(event.clientX, event.clientY)
    .find((one): one is SVGElement => one instanceof SVGElement && one.dataset.line !== undefined);
  return under?.dataset.line === undefined ? {} : { from: { on: 'line', at: under.dataset.line } };
}

function lift(button: HTMLElement): HTMLElement {
  const ghost = document.createElement('div');
  ghost.className = 'ghost';
  const picture = button.querySelector('svg')?.cloneNode(true);
  if (picture !== undefined) ghost.append(picture);
  document.body.append(ghost);
  return ghost;
}

function snapTo(value: number): number {
  return Math.round(value / GRID) * GRID;
}
