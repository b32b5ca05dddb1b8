/** The page's colours are those of the palette that exports are drawn by. */
import { readFileSync } from 'node:fs';
import { expect, test } from 'vitest';
import { palettes } from '../../compiler/picture/palette.ts';

const css = readFileSync(new URL('../../editor/theme.css', import.meta.url), 'utf8');

/** The variables of the first rule after a selector. */
function variables(selector: string): Record<string, string> {
  const start = css.indexOf(selector);
  expect(start).toBeGreaterThanOrEqual(0);
  const body = css.slice(css.indexOf('{', start), css.indexOf('}', start));
  return Object.fromEntries(
    [...body.matchAll(/--([a-z]+): (#[0-9a-f]{6});/g)].map(([, name = '', value = '']) => [name, value]),
  );
}

test.each([
  ['light', ':root {'],
  ['dark', ':root[data-theme="dark"] {'],
  ['dark', ':root:not([data-theme="light"]) {'],
] as const)('%s, as %s says it', (theme, selector) => {
  const shown = variables(selector);
  for (const [name, colour] of Object.entries(palettes[theme])) expect(shown[name], name).toBe(colour.toLowerCase());
});
