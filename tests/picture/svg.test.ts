/** Whole sheets as SVG: well formed, the same every time, complete, and readable in both palettes. */

import { describe, expect, test } from 'vitest';
import { firstPlaces } from '../../compiler/picture/first_places.ts';
import { lineMarks } from '../../compiler/picture/line_marks.ts';
import type { Palette } from '../../compiler/picture/palette.ts';
import { palettes, styles } from '../../compiler/picture/palette.ts';
import { wrapped } from '../../compiler/picture/remarks.ts';
import type { Route } from '../../compiler/picture/router.ts';
import { pictureOf } from '../../compiler/picture/sheet_picture.ts';
import { drawSheet } from '../../compiler/picture/svg.ts';
import type { Sheet } from '../../compiler/sheet/sheet.ts';
import { blankSheet } from '../../compiler/sheet/sheet.ts';
import { textOf } from './shelf.ts';

const sheet: Sheet = {
  ...blankSheet('Turn <table> & knob'),
  blocks: {
    knob: { is: 'knob' },
    error: { is: 'summing_point', inputs: { want: '+', got: '-' } },
    slow: { is: 'gain', every: 5, set: { gain: 0.4 } },
    drive: { is: 'channel_out' },
    table: { is: 'turntable' },
    encoder: { is: 'encoder' },
    angle: { is: 'count_angle' },
    near: { is: 'within', set: { limit: '3 deg' } },
    lamp: { is: 'lamp' },
    both: { is: 'pair' },
  },
  wires: {
    'error.want': 'knob.y',
    'error.got': 'angle.angle',
    'slow.u': 'error.y',
    'drive.u': 'slow.y',
    'table.torque': 'drive.truth',
    'encoder.angle': 'table.angle',
    'angle.count': 'encoder.count',
    'near.u': 'angle.angle',
    'lamp.on': 'near.y',
  },
  shelf: {
    pair: {
      ports: { a: { in: '[3] rad' }, b: { out: 'bool' } },
      blocks: { inner: { is: 'gain' } },
      wires: {},
      layout: {},
    },
  },
  layout: {
    knob: [0, 0],
    error: [280, 30],
    slow: [400, 0],
    drive: [620, 0],
    table: [900, 0],
    encoder: { at: [620, 200], flip: true },
    angle: { at: [380, 200], flip: true },
    near: [0, 200],
    lamp: [200, 340],
  },
  desk: {
    ...blankSheet().desk,
    frames: { loop: { at: [250, -40], size: [300, 120], title: 'The law' } },
    notes: { one: { at: [0, 420], text: 'Turn the knob and watch the table follow it.', size: [160, 60] } },
    taps: { 'near.u': {} },
  },
};

const picture = pictureOf(sheet, textOf, {
  titleBlock: { title: sheet.title, entries: [{ label: 'tick', value: '5 ms' }], stamp: 'same bits' },
});

/** Tags close in the order they open; attributes are quoted; returns the number of elements. */
function elements(text: string): number {
  const open: string[] = [];
  let count = 0;
  for (const [, closing, name = '', rest = ''] of text.matchAll(
    /<(\/?)([a-zA-Z]+)((?:\s+[\w:-]+="[^"<]*")*\s*\/?)>/g,
  )) {
    if (closing === '/') expect(open.pop()).toBe(name);
    else {
      count++;
      if (!rest.trimEnd().endsWith('/')) open.push(name);
    }
  }
  expect(open).toEqual([]);
  const outside = text.replace(/<(\/?)([a-zA-Z]+)((?:\s+[\w:-]+="[^"<]*")*\s*\/?)>/g, '');
  expect(outside).not.toMatch(/[<>]/);
  expect(outside).not.toMatch(/&(?!amp;|lt;|gt;|quot;)/);
  return count;
}

describe.each(['light', 'dark'] as const)('%s', (theme) => {
  test.each(['outlines', 'font'] as const)('is well formed as %s, and the same every time', (text) => {
    const svg = drawSheet(picture, { theme, text });
    expect(elements(svg)).toBeGreaterThan(100);
    expect(svg).not.toMatch(/NaN|undefined|Infinity/);
    expect(
      drawSheet(pictureOf(sheet, textOf, { titleBlock: picture.titleBlock ?? { title: '', entries: [] } }), {
        theme,
        text,
      }),
    ).toBe(svg);
  });
});

test('names every card for readers, and needs no font as outlines', () => {
  const svg = drawSheet(picture);
  for (const name of Object.keys(sheet.blocks)) expect(svg).toContain(`<title>${name}`);
  expect(svg).not.toContain('<text');
  expect(svg).toContain('Turn &lt;table&gt; &amp; knob');
  for (const [, id] of svg.matchAll(/href="#(\w+)"/g)) expect(svg).toContain(`<path id="${id}"`);
});

test('everything is on the paper', () => {
  const { bounds } = picture;
  for (const card of picture.cards) {
    expect(card.x).toBeGreaterThanOrEqual(bounds.x);
    expect(card.y).toBeGreaterThanOrEqual(bounds.y);
    expect(card.x).toBeLessThan(bounds.x + bounds.width);
    expect(card.y).toBeLessThan(bounds.y + bounds.height);
  }
});

test('a card without a place gets one where no other stands', () => {
  const both = picture.cards.find((card) => card.name === 'both');
  expect(both?.y).toBeGreaterThan(340);
  const places = firstPlaces(
    ['a', 'b', 'c'].map((name) => ({ name, width: 80, height: 80 })),
    [
      ['a', 'b'],
      ['b', 'c'],
      ['c', 'a'],
    ],
  );
  expect([places.a?.x, places.b?.x, places.c?.x].every((x, i, all) => all.indexOf(x) === i)).toBe(true);
});

test('rates, logic and cut lines are marked', () => {
  const roles = new Set(picture.lines.map((mark) => mark.role));
  for (const role of ['line', 'line_logic', 'arrow', 'open_end', 'torn', 'mark'] as const)
    expect(roles).toContain(role);
  const words = picture.lines.flatMap((mark) =>
    mark.shape === 'text' && mark.role === 'mark_text' ? [mark.text] : [],
  );
  expect(words.some((text) => /^angle\.angle → [A-Z]\d$/.test(text))).toBe(true);
  expect(words.some((text) => /^[A-Z]\d → angle\.angle$/.test(text))).toBe(true);
});

test('a vector has a slash with its number, a conversion its chip', () => {
  const route: Route = {
    net: 'a.y',
    lines: [
      [
        { x: 0, y: 0 },
        { x: 300, y: 0 },
      ],
    ],
    dots: [],
    leaves: {
      'b.u': [
        { x: 0, y: 0 },
        { x: 300, y: 0 },
      ],
    },
    under: [],
    blocked: false,
    rough: false,
  };
  const marks = lineMarks(route, { logic: false, size: 3, conversions: { 'b.u': ['deg', 'rad'] } }, { 'b.u': 'left' });
  const words = marks.flatMap((mark) => (mark.shape === 'text' ? [mark.text] : []));
  expect(words).toEqual(['3', 'deg', 'rad']);
  expect(marks.some((mark) => mark.role === 'slash')).toBe(true);
  expect(lineMarks(route, { logic: false, size: 1 }, {}).some((mark) => mark.role === 'slash')).toBe(false);
});

test('notes are broken at spaces', () => {
  expect(wrapped('one two three', 40, 14).length).toBeGreaterThan(1);
  expect(wrapped('one two three', 40, 14).join(' ')).toBe('one two three');
  expect(wrapped('one\n\ntwo', 400)).toEqual(['one', '', 'two']);
});

/** Relative luminance and contrast ratio as WCAG 2.2 defines them. */
function contrast(a: string, b: string): number {
  const luminance = (colour: string) => {
    const [r = 0, g = 0, blue = 0] = [1, 3, 5].map((i) => {
      const c = Number.parseInt(colour.slice(i, i + 2), 16) / 255;
      return c <= 0.04045 ? c / 12.92 : ((c + 0.055) / 1.055) ** 2.4;
    });
    return 0.2126 * r + 0.7152 * g + 0.0722 * blue;
  };
  const [low = 0, high = 0] = [luminance(a), luminance(b)].sort((x, y) => x - y);
  return (high + 0.05) / (low + 0.05);
}

describe.each(Object.entries(palettes))('%s palette', (_, palette) => {
  const surfaces: (keyof Palette)[] = ['paper', 'card', 'ground'];

  test('text has 4.5:1 on paper, cards and ground (WCAG 2.2, 1.4.3)', () => {
    const inks = new Set(
      Object.values(styles).flatMap((style) =>
        style.stroke === undefined && style.fill !== undefined ? [style.fill] : [],
      ),
    );
    for (const ink of ['ink', 'muted'] as const) expect(inks).toContain(ink);
    for (const ink of ['ink', 'muted'] as const)
      for (const surface of surfaces)
        expect(contrast(palette[ink], palette[surface]), `${ink} on ${surface}`).toBeGreaterThanOrEqual(4.5);
  });

  test('what is live, warns or failed has 4.5:1 on paper and cards', () => {
    for (const ink of ['copper', 'warning', 'fault'] as const)
      for (const surface of ['paper', 'card'] as const)
        expect(contrast(palette[ink], palette[surface]), `${ink} on ${surface}`).toBeGreaterThanOrEqual(4.5);
  });
});
