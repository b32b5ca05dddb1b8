/** The slots for what is shown on the paper and the rail: each view is loaded when it is first looked at. */
import { type ComponentType, lazy } from 'react';
import { Draw } from './draw/draw.tsx';
import type { View } from './session.ts';

/** Views by file, where they are there: `shape/shape.tsx` exports `Shape`, and so on; `run/rail.tsx` exports `Rail`. */
const files = import.meta.glob<Record<string, ComponentType>>([
  './shape/shape.tsx',
  './run/run.tsx',
  './ship/ship.tsx',
  './run/rail.tsx',
]);

function slot(path: string, name: string, otherwise: ComponentType): ComponentType {
  const load = files[path];
  if (load === undefined) return otherwise;
  return lazy(async () => ({ default: (await load())[name] ?? otherwise }));
}

export const VIEW_PARTS: Readonly<Record<View, ComponentType>> = {
  draw: Draw,
  shape: slot('./shape/shape.tsx', 'Shape', NotHere),
  run: slot('./run/run.tsx', 'Run', NotHere),
  ship: slot('./ship/ship.tsx', 'Ship', NotHere),
};

export const Rail: ComponentType = slot('./run/rail.tsx', 'Rail', () => <p className="quiet">Nothing has run yet.</p>);

function NotHere() {
  return <p className="notice">This view is not part of this build.</p>;
}
