/** Thin lines from the findings in the margin to the things they are about, while both are in view. */
import { useEffect, useRef } from 'react';
import type { StoreApi } from 'zustand/vanilla';
import { endOf } from '../document/edits.ts';
import type { Viewport } from '../session.ts';
import { useChecked } from '../workbench.ts';
import type { Scene } from './scene.ts';

export function Leaders({ live, scene }: { live: StoreApi<Viewport>; scene: Scene }) {
  const layer = useRef<SVGSVGElement>(null);
  const checked = useChecked();
  // biome-ignore lint/correctness/useExhaustiveDependencies: findings move the items in the margin
  useEffect(() => {
    let asked = 0;
    const draw = () => {
      asked = 0;
      if (layer.current !== null) drawLeaders(layer.current, scene, live.getState());
    };
    const ask = () => {
      asked ||= requestAnimationFrame(draw);
    };
    ask();
    // Once more when the margin has been laid out anew.
    const late = setTimeout(ask, 120);
    const unwatch = live.subscribe(ask);
    const margin = document.querySelector('[data-region="margin"]');
    margin?.addEventListener('scroll', ask, true);
    addEventListener('resize', ask);
    return () => {
      cancelAnimationFrame(asked);
      clearTimeout(late);
      unwatch();
      margin?.removeEventListener('scroll', ask, true);
      removeEventListener('resize', ask);
    };
  }, [live, scene, checked]);
  return <svg className="leaders" ref={layer} aria-hidden="true" />;
}

/** Draws them anew from where the items and the cards are now. */
function drawLeaders(layer: SVGSVGElement, scene: Scene, { x, y, zoom }: Viewport): void {
  const frame = layer.getBoundingClientRect();
  const margin = document.querySelector('.findings')?.getBoundingClientRect();
  layer.replaceChildren();
  if (margin === undefined || margin.left < frame.right - 40) return;
  for (const item of document.querySelectorAll<HTMLElement>('[data-finding-at]')) {
    const place = placeOf(scene, item.dataset.findingAt ?? '');
    const level = item.getBoundingClientRect().top + 14;
    if (place === undefined || level < margin.top || level > margin.bottom) continue;
    const from = { x: place.x * zoom + x, y: place.y * zoom + y };
    if (from.x > frame.width || from.x < 0 || from.y < 0 || from.y > frame.height) continue;
    const line = document.createElementNS('http://www.w3.org/2000/svg', 'polyline');
    const to = level - frame.top;
    line.setAttribute('points', `${from.x},${from.y} ${frame.width - 14},${to} ${frame.width},${to}`);
    line.setAttribute('class', `leader ${item.dataset.level ?? ''} ${item.dataset.here === undefined ? '' : 'here'}`);
    layer.append(line);
  }
}

/** Where a leader starts: at the port a finding is about, or at the mark beside the card. */
function placeOf(scene: Scene, path: string): { x: number; y: number } | undefined {
  const port = scene.ports.get(path);
  if (port !== undefined) return port;
  const placed = scene.cards.get(path) ?? scene.cards.get(endOf(path).block);
  return placed === undefined ? undefined : { x: placed.x + placed.card.width + 14, y: placed.y };
}
