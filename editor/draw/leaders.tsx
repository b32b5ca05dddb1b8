/** Thin lines from the findings in the margin to the things they are about, while both are in view. */
import { useEffect, useRef } from 'react';
import type { StoreApi } from 'zustand/vanilla';
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
    margin?.addEventListener('scroll', ask);
    addEventListener('resize', ask);
    return () => {
      cancelAnimationFrame(asked);
      clearTimeout(late);
      unwatch();
      margin?.removeEventListener('scroll', ask);
      removeEventListener('resize', ask);
    };
  }, [live, scene, checked]);
  return <svg className="leaders" ref={layer} aria-hidden="true" />;
}

/** Draws them anew from where the items and the cards are now. */
function drawLeaders(layer: SVGSVGElement, scene: Scene, { x, y, zoom }: Viewport): void {
  const frame = layer.getBoundingClientRect();
  const margin = document.querySelector('[data-region="margin"]')?.getBoundingClientRect();
  layer.replaceChildren();
  if (margin === undefined || margin.left < frame.right - 40) return;
  for (const item of document.querySelectorAll<HTMLElement>('[data-finding-at]')) {
    const placed = scene.cards.get(item.dataset.findingAt ?? '');
    const rect = item.getBoundingClientRect();
    const level = rect.top + 12;
    if (placed === undefined || level < margin.top || level > margin.bottom) continue;
    const right = (placed.x + placed.card.width) * zoom + x + 14;
    const top = placed.y * zoom + y + 6;
    if (right > frame.width || right < 0 || top < 0 || top > frame.height) continue;
    const line = document.createElementNS('http://www.w3.org/2000/svg', 'polyline');
    const end = frame.width;
    line.setAttribute('points', `${right},${top} ${Math.max(right, end - 26)},${top} ${end},${level - frame.top}`);
    line.setAttribute('class', `leader ${item.dataset.level ?? ''}`);
    layer.append(line);
  }
}
