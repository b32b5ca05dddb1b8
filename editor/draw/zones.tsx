/** Zone letters and numbers along the paper's edges, as on a drawing, pinned to the window and moving with the paper. */
import { useSyncExternalStore } from 'react';
import type { StoreApi } from 'zustand/vanilla';
import type { Area } from '../../compiler/picture/marks.ts';
import { zoneGrid, zoneLetters } from '../../compiler/picture/sheet_frame.ts';
import type { Viewport } from '../session.ts';

/** What a paper with nothing on it is divided as. */
const BLANK: Area = { x: 0, y: 0, width: 1200, height: 700 };

export function Zones({ live, bounds }: { live: StoreApi<Viewport>; bounds: Area | undefined }) {
  const { x, y, zoom } = useSyncExternalStore(live.subscribe, live.getState);
  const { area, columns, rows } = zoneGrid(bounds ?? BLANK, undefined);
  const [wide, high] = [(area.width / columns) * zoom, (area.height / rows) * zoom];
  return (
    <div className="zones" aria-hidden="true">
      {Array.from({ length: columns }, (_, index) => (
        // biome-ignore lint/suspicious/noArrayIndexKey: a zone is its number
        <span key={index} className="across" style={{ left: area.x * zoom + x + index * wide, width: wide }}>
          {index + 1}
        </span>
      ))}
      {Array.from({ length: rows }, (_, index) => (
        // biome-ignore lint/suspicious/noArrayIndexKey: a zone is its number
        <span key={index} className="down" style={{ top: area.y * zoom + y + index * high, height: high }}>
          {zoneLetters(index)}
        </span>
      ))}
    </div>
  );
}
