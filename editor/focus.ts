/** Where the keyboard is: going round the regions, and back to the paper. */
import { REGIONS, type Region } from './session.ts';

const last = new Map<string, HTMLElement>();

/** Remembers, for each region, what was focused in it last. */
export function watchFocus(root: HTMLElement): void {
  root.addEventListener('focusin', ({ target }) => {
    if (!(target instanceof HTMLElement)) return;
    const region = regionOf(target);
    if (region !== undefined) last.set(region, target);
  });
}

export function regionOf(target: EventTarget | null): Region | undefined {
  const found = target instanceof Element ? target.closest<HTMLElement>('[data-region]')?.dataset.region : undefined;
  return REGIONS.find((region) => region === found);
}

/** Goes to the next region (1) or the one before (-1), to what was focused in it last. */
export function moveFocus(by: 1 | -1): void {
  const shown = REGIONS.filter((region) => document.querySelector(`[data-region="${region}"]`) !== null);
  const here = regionOf(document.activeElement);
  const from = here === undefined ? (by === 1 ? -1 : 0) : shown.indexOf(here);
  const next = shown[(from + by + shown.length) % shown.length];
  if (next !== undefined) focusRegion(next);
}

export function focusRegion(region: Region): void {
  const place = document.querySelector<HTMLElement>(`[data-region="${region}"]`);
  const before = last.get(region);
  if (before?.isConnected && place?.contains(before)) before.focus();
  else {
    const first = place?.querySelector<HTMLElement>(
      '.drawing, button:not(:disabled), input, select, textarea, a[href], [tabindex="0"]',
    );
    (first ?? place)?.focus();
  }
}

/** Back to the drawing. */
export function focusPaper(): void {
  document.querySelector<HTMLElement>('.drawing')?.focus({ preventScroll: true });
}
