/** What each view is called, and what it is for, as the bar, find and help say it. */
import type { View } from './session.ts';

export const VIEW_WORDS: Readonly<Record<View, { readonly name: string; readonly about: string }>> = {
  draw: { name: 'Draw', about: 'the sheet: blocks, lines, settings' },
  shape: { name: 'Shape', about: 'what answers for a loop' },
  run: { name: 'Run', about: 'the bench: charts, nudges, the moving machine' },
  ship: { name: 'Ship', about: 'schedule, C, board' },
};
