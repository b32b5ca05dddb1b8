/** Wiring with the pointer: press a port and drag to another, tap a port and tap another, or drop the line on the paper. */
import type { Point } from '../../compiler/sheet/sheet.ts';
import { focusPaper } from '../focus.ts';
import { blockOf, type Mark, type Pending } from '../session.ts';
import type { Workbench } from '../workbench.ts';
import { type Candidate, candidates, nameOfEnd } from './fitting.ts';
import { hang, join, joinCandidate } from './wiring.ts';

/** How near a port a line snaps to it, in screen pixels. */
const REACH = 26;

/** How far the pointer goes before a press is a drag. */
const STIR = 4;

/** Where a place on the screen is on the paper. */
export function paperPoint({ session }: Workbench, clientX: number, clientY: number): Point {
  const frame = document.querySelector('.canvas')?.getBoundingClientRect();
  const { x, y, zoom } = session.getState().viewport;
  return [(clientX - (frame?.x ?? 0) - x) / zoom, (clientY - (frame?.y ?? 0) - y) / zoom];
}

/** Follows the pointer from a press on a port until it is let go. */
export function pressPort(workbench: Workbench, from: Mark, press: PointerEvent): void {
  if (press.button !== 0) return;
  focusPaper();
  const { session } = workbench;
  const { mode, scope } = session.getState();
  if (mode.is === 'wiring' && mode.from.at !== from.at) {
    join(workbench, mode.from, from);
    return;
  }
  session.setState({ mark: from, selection: [] });
  if (workbench.document.locked() !== undefined) return;
  const fitting = candidates(workbench.document.sheet(), scope, from);
  let moved = false;
  const onMove = (event: PointerEvent) => {
    if (event.pointerId !== press.pointerId) return;
    moved ||= Math.hypot(event.clientX - press.clientX, event.clientY - press.clientY) > STIR;
    if (moved) session.setState({ pending: pendingAt(workbench, from, fitting, event) });
  };
  const stop = () => {
    removeEventListener('pointermove', onMove);
    removeEventListener('pointerup', onUp);
    removeEventListener('pointercancel', stop);
    removeEventListener('keydown', onKey, true);
    session.setState({ pending: undefined });
  };
  const onKey = (event: KeyboardEvent) => {
    if (event.key !== 'Escape') return;
    event.preventDefault();
    stop();
  };
  const onUp = (event: PointerEvent) => {
    if (event.pointerId !== press.pointerId) return;
    const pending = pendingAt(workbench, from, fitting, event);
    stop();
    if (!moved) hang(workbench, from);
    else if (pending.over !== undefined) join(workbench, from, pending.over);
    else dropLine(workbench, from, fitting, pending.to, event.target);
  };
  addEventListener('pointermove', onMove);
  addEventListener('pointerup', onUp);
  addEventListener('pointercancel', stop);
  addEventListener('keydown', onKey, true);
}

function pendingAt(workbench: Workbench, from: Mark, fitting: readonly Candidate[], event: PointerEvent): Pending {
  const to = paperPoint(workbench, event.clientX, event.clientY);
  const { zoom } = workbench.session.getState().viewport;
  const { ports } = workbench.scene();
  let best: { mark: Mark; distance: number; at: Point } | undefined;
  for (const { block, port, add } of fitting) {
    const place = add === undefined ? ports.get(nameOfEnd(block, port)) : undefined;
    if (place === undefined) continue;
    const distance = Math.hypot(place.x - to[0], place.y - to[1]) * zoom;
    if (distance > REACH || (best !== undefined && distance >= best.distance)) continue;
    best = {
      mark: { on: place.direction === 'in' ? 'input' : 'output', at: place.name },
      distance,
      at: [place.x, place.y],
    };
  }
  return { from, to: best?.at ?? to, over: best?.mark };
}

/** A line let go over a card takes its best free port; over the paper it asks for a block that fits there. */
function dropLine(
  workbench: Workbench,
  from: Mark,
  fitting: readonly Candidate[],
  at: Point,
  target: EventTarget | null,
): void {
  const { session } = workbench;
  const [x, y] = at;
  const over = [...workbench.scene().cards.values()].find(
    (one) => x >= one.x && y >= one.y && x <= one.x + one.card.width && y <= one.y + one.card.height,
  );
  if (over !== undefined) {
    const best = over.name === blockOf(from) ? undefined : fitting.find((one) => one.block === over.name && !one.taken);
    if (best !== undefined) joinCandidate(workbench, from, best);
    return;
  }
  if (target instanceof Element && target.closest('.canvas') === null) return;
  session.setState({ find: { text: '', from, at: [Math.round(x / 20) * 20, Math.round(y / 20) * 20 - 40] } });
}
