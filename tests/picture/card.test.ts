/** Cards: sizes on the grid, everything inside, nothing over anything else, and the mirror image when flipped. */

import { describe, expect, test } from 'vitest';
import type { Card, CardDescription } from '../../compiler/picture/card_size.ts';
import { layoutCard } from '../../compiler/picture/card_size.ts';
import { combTicks } from '../../compiler/picture/comb.ts';
import { describeCard } from '../../compiler/picture/describe.ts';
import type { Area, Mark, TextMark } from '../../compiler/picture/marks.ts';
import { textWidth } from '../../compiler/picture/metrics.ts';
import { instanceOf, texts } from './shelf.ts';

function cardOf(name: string, options: { flip?: boolean; every?: number } = {}): Card {
  return layoutCard(described(name, options));
}

function described(
  name: string,
  { flip = false, every = 1 }: { flip?: boolean; every?: number } = {},
): CardDescription {
  const text = texts.get(name);
  if (text === undefined) throw new Error(`no block ${name}`);
  return describeCard('named', { ...instanceOf(text), every }, text, { flip, severalRates: true });
}

function isText(mark: Mark): mark is TextMark {
  return mark.shape === 'text';
}

/** About the ink of a line of text. */
function inkOf(mark: TextMark): Area {
  const width = textWidth(mark.text, mark.size, mark.face);
  const left = mark.anchor === 'start' ? mark.x : mark.anchor === 'end' ? mark.x - width : mark.x - width / 2;
  return { x: left, y: mark.y - 0.65 * mark.size, width, height: 0.65 * mark.size };
}

function overlap(a: Area, b: Area): boolean {
  return (
    a.x < b.x + b.width - 0.5 && b.x < a.x + a.width - 0.5 && a.y < b.y + b.height - 0.5 && b.y < a.y + a.height - 0.5
  );
}

describe.each([...texts.keys()])('%s', (name) => {
  test.each([false, true])('fits its card, flipped: %s', (flip) => {
    const card = cardOf(name, { flip, every: 5 });
    expect(card.width % 20).toBe(0);
    expect(card.height % 10).toBe(0);
    const isCircle = card.width === 40;
    for (const mark of card.marks.filter(isText)) {
      if (isCircle) continue;
      const ink = inkOf(mark);
      expect(ink.x, mark.text).toBeGreaterThanOrEqual(2);
      expect(ink.x + ink.width, mark.text).toBeLessThanOrEqual(card.width - 2);
      expect(ink.y, mark.text).toBeGreaterThanOrEqual(0);
      expect(mark.y, mark.text).toBeLessThanOrEqual(card.height);
    }
    const marks = card.marks.filter(isText);
    marks.forEach((mark, i) => {
      for (const other of marks.slice(i + 1)) {
        if (mark.role === 'law' && other.role === 'law') continue;
        expect(overlap(inkOf(mark), inkOf(other)), `${mark.text} over ${other.text}`).toBe(false);
      }
    });
  });

  test('has its ports on the grid, apart, the first ones on the main line', () => {
    const card = cardOf(name);
    for (const port of card.ports.filter((each) => card.width > 40 && each.side !== 'bottom'))
      expect(port.y % 10).toBe(0);
    for (const side of ['left', 'right'] as const) {
      const ys = card.ports.filter((port) => port.side === side).map((port) => port.y);
      expect(new Set(ys).size).toBe(ys.length);
      if (ys.length > 0 && card.width > 40) expect(Math.min(...ys)).toBe(50);
      expect(Math.max(0, ...ys)).toBeLessThan(card.height);
    }
  });

  test('flipped, has its ports at the other side', () => {
    const [card, flipped] = [cardOf(name), cardOf(name, { flip: true })];
    expect([flipped.width, flipped.height]).toEqual([card.width, card.height]);
    card.ports.forEach((port) => {
      const other = flipped.ports.find((each) => each.name === port.name && each.direction === port.direction);
      if (port.side === 'left' || port.side === 'right') expect(other?.x).toBe(card.width - port.x);
      else expect(other?.x).toBe(port.x);
      expect(other?.y).toBe(port.y);
    });
  });

  test('is the same every time, and the same under another name', () => {
    expect(cardOf(name)).toEqual(cardOf(name));
    const text = texts.get(name);
    if (text === undefined) return;
    const other = describeCard(
      'named',
      instanceOf(text),
      { ...text, name: 'something_else', label: text.label ?? 'x' },
      { severalRates: true },
    );
    expect(other).toEqual({ ...described(name), kind: text.label ?? 'x' });
  });
});

describe('a summing point', () => {
  const description = (kinds: readonly string[], flip = false): CardDescription => ({
    ...described('summing_point'),
    inputs: kinds.map((sign, i) => ({ name: `in${i}`, logic: false, size: 1, optional: false, sign })),
    flip,
  });

  test('is a circle of 28 px with a sign beside each of up to three inputs', () => {
    const card = layoutCard(description(['-', '+', '+']));
    expect([card.width, card.height]).toEqual([40, 40]);
    expect(card.ports.map((port) => port.side)).toEqual(['bottom', 'left', 'top', 'right']);
    for (const port of card.ports) expect(Math.hypot(port.x - 20, port.y - 20)).toBe(14);
    const signs = card.marks.filter(isText);
    expect(signs.map((mark) => mark.text)).toEqual(['−', '+', '+']);
    for (const mark of signs) {
      const ink = inkOf(mark);
      expect(Math.hypot(ink.x + ink.width / 2 - 20, ink.y + ink.height / 2 - 20)).toBeGreaterThan(14 + 3);
    }
  });

  test('with four is a card with a sign at each', () => {
    const card = layoutCard(description(['+', '-', '+', '-']));
    expect(card.width).toBeGreaterThan(40);
    expect(card.ports.filter((port) => port.direction === 'in').every((port) => port.side === 'left')).toBe(true);
    const labels = card.marks.filter(isText).map((mark) => mark.text);
    expect(labels).toContain('− in1');
    expect(labels).toContain('+ in2');
  });
});

describe('blanks', () => {
  test('a number in the law is a field over its place, and is not said again below', () => {
    const text = texts.get('lead_lag');
    if (text === undefined) throw new Error('no lead_lag');
    const card = layoutCard(
      describeCard('outer', { is: 'lead_lag', set: { gain: -5e-4, zero: '6 rad/s', pole: '2 Hz' } }, text),
    );
    expect(card.fields.map((field) => field.setting).sort()).toEqual(['gain', 'pole', 'zero']);
    for (const field of card.fields) {
      expect(field.x).toBeGreaterThan(0);
      expect(field.x + field.width).toBeLessThan(card.width);
      expect(field.y + field.height).toBeLessThan(card.height);
    }
    const shown = card.marks
      .filter(isText)
      .filter((mark) => mark.setting === 'pole')
      .map((mark) => mark.text);
    expect(shown.join(' ')).toBe('2 Hz');
  });

  test('a limiter has its two numbers at the corners of its curve', () => {
    const text = texts.get('saturation');
    if (text === undefined) throw new Error('no saturation');
    const description = describeCard('limit', { is: 'saturation', set: { low: '-6 deg', high: '9 deg' } }, text);
    const corners = description.curve?.corners.map(({ setting, value }) => [setting, value]);
    expect(corners).toEqual([
      ['low', '−6°'],
      ['high', '9°'],
    ]);
    const degree = Math.PI / 180;
    expect(description.curve?.corners[1]?.at.x).toBeCloseTo(9 * degree, 2);
    expect(Math.max(...(description.curve?.points.map((point) => point.y) ?? []))).toBeCloseTo(9 * degree, 9);
    const card = layoutCard(description);
    expect(card.plot?.x[0]).toBeLessThan(-6 * degree);
    expect(card.fields.map((field) => field.setting).sort()).toEqual(['high', 'low']);
  });
});

test('a gate has its line open at the bar, and a box at each reason and trip', () => {
  const text = texts.get('arming_gate');
  if (text === undefined) throw new Error('no arming_gate');
  const inputs = { upright: 'reasons', still: 'reasons', fallen: 'trips' };
  const card = layoutCard(describeCard('arm', { is: 'arming_gate', inputs }, text));
  expect(card.rows.map(({ port, role }) => [port, role])).toEqual([
    ['fallen', 'trip'],
    ['still', 'reason'],
    ['upright', 'reason'],
  ]);
  const command = card.ports.find((port) => port.name === 'command');
  expect(card.bar?.from.y).toBe(command?.y);
  for (const row of card.rows) {
    expect(row.box.y + row.box.height / 2).toBe(card.ports.find((port) => port.name === row.port)?.y);
    expect(row.words.width).toBeGreaterThan(80);
  }
});

test('sensors and actuators have the half on the ground that the plant is at', () => {
  const half = (name: string, flip: boolean) => cardOf(name, { flip }).ground;
  const width = (name: string) => cardOf(name).width;
  expect(half('channel_in', false)?.x).toBe(0);
  expect(half('channel_in', true)?.x).toBe(width('channel_in') / 2);
  expect(half('channel_out', false)?.x).toBe(width('channel_out') / 2);
  expect(half('gain', false)).toBeUndefined();
  expect(half('turntable', false)?.width).toBe(width('turntable'));
});

describe('the comb', () => {
  test('has a tooth on the ticks a block runs on, phase included', () => {
    for (let every = 1; every <= 12; every++)
      for (let phase = 0; phase < every; phase++)
        expect(combTicks(every, phase)).toEqual(
          Array.from({ length: 12 }, (_, tick) => (tick >= phase && (tick - phase) % every === 0 ? 'tooth' : 'rest')),
        );
  });

  test('beyond 12 has a break and the number', () => {
    expect(combTicks(100, 0)).toContain('break');
    expect(
      cardOf('gain', { every: 100 })
        .marks.filter(isText)
        .map((mark) => mark.text),
    ).toContain('100');
  });
});

test('laws are written out for the inputs the sheet names', () => {
  const law = (name: string, inputs: Record<string, string>) => {
    const text = texts.get(name);
    if (text === undefined) throw new Error(`no ${name}`);
    return layoutCard(describeCard('a', { is: name, inputs }, text))
      .marks.filter(isText)
      .filter((mark) => mark.role === 'law')
      .map((mark) => mark.text)
      .join(' ');
  };
  expect(law('average', { left: '-', right: '+' })).toBe('y = right − left 2');
  expect(law('largest', { one: '', two: '' })).toBe('y = max ( one , two )');
});
