/** Zone letters and numbers along the paper's edges, as on a drawing, pinned to the window and moving with the paper. */
import { useSyncExternalStore } from 'react';
import type { StoreApi } from 'zustand/vanilla';
import type { Area, Point } from '../../compiler/picture/marks.ts';
import type { Viewport } from '../session.ts';

/** A zone's width and height on the paper, px. */
export const ZONE = { width: 400, height: 300 } as const;

const LETTERS = 'ABCDEFGHJKLMNPQRSTUVWXYZ';

/** Where zones are counted from: above and to the left of everything drawn. */
function origin(bounds: Area | undefined): Point {
  const floor = (value: number, step: number) => Math.min(0, Math.floor(value / step) * step);
  return { x: floor(bounds?.x ?? 0, ZONE.width), y: floor(bounds?.y ?? 0, ZONE.height) };
}

/** The zone of a place, `C4`: letters down, numbers across. */
export function zoneOf(at: Point, bounds: Area | undefined): string {
  const from = origin(bounds);
  const row = Math.floor((at.y - from.y) / ZONE.height);
  return `${LETTERS[Math.max(0, row) % LETTERS.length]}${Math.max(0, Math.floor((at.x - from.x) / ZONE.width)) + 1}`;
}

export function Zones({ live, bounds }: { live: StoreApi<Viewport>; bounds: Area | undefined }) {
  const { x, y, zoom } = useSyncExternalStore(live.subscribe, live.getState);
  const from = origin(bounds);
  const across = marks(from.x * zoom + x, ZONE.width * zoom);
  const down = marks(from.y * zoom + y, ZONE.height * zoom);
  return (
    <div className="zones" aria-hidden="true">
      {across.map(({ at, index, length }) => (
        <span key={`across ${index}`} className="across" style={{ left: at, width: length }}>
          {index + 1}
        </span>
      ))}
      {down.map(({ at, index, length }) => (
        <span key={`down ${index}`} className="down" style={{ top: at, height: length }}>
          {LETTERS[index % LETTERS.length]}
        </span>
      ))}
    </div>
  );
}

/** The zones that may be in view along one edge. */
function marks(start: number, length: number): { at: number; index: number; length: number }[] {
  const found = [];
  const first = Math.max(0, Math.floor(-start / length));
  for (let index = first; index < first + 40; index++) {
    const at = start + index * length;
    if (at > 4000) break;
    found.push({ at, index, length });
  }
  return found;
}
