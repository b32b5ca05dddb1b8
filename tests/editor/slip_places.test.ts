/** Slips cover neither cards nor each other while there is room, and stay in view. */
import { expect, test } from 'vitest';
import { type SlipPort, slipPlaces } from '../../editor/draw/slip_places.ts';

const gain: SlipPort = { name: 'gain.y', x: 100, y: 50, side: 'right', card: { x: 0, y: 0, width: 100, height: 80 } };

test('stands over its line where nothing is near', () => {
  expect(slipPlaces([gain], [gain.card], 1, undefined).get('gain.y')).toEqual({
    x: 107,
    y: 46,
    from: 'left',
    narrow: false,
  });
});

test('goes over its card where the next card is too near for it, and keeps its trace', () => {
  const next = { x: 150, y: 0, width: 100, height: 80 };
  const place = slipPlaces([gain], [gain.card, next], 1, undefined).get('gain.y');
  expect(place).toEqual({ x: 100, y: -4, from: 'right', narrow: false });
});

test('gives up its trace before it covers a card', () => {
  const around = [
    gain.card,
    { x: 195, y: 0, width: 100, height: 200 },
    { x: -200, y: -40, width: 280, height: 36 },
    { x: -200, y: 84, width: 280, height: 36 },
  ];
  expect(slipPlaces([gain], around, 1, undefined).get('gain.y')).toEqual({ x: 107, y: 46, from: 'left', narrow: true });
});

test('two slips do not cover each other', () => {
  const second = { ...gain, name: 'gain.z', y: 58 };
  const places = slipPlaces([gain, second], [gain.card], 1, undefined);
  expect(places.get('gain.z')?.y).toBe(58 + 4 + 21);
});

test('stays in view where it can', () => {
  const view = { x: -200, y: -100, width: 330, height: 300 };
  expect(slipPlaces([gain], [gain.card], 1, view).get('gain.y')?.from).toBe('right');
  const nowhere = { x: 0, y: 0, width: 10, height: 10 };
  expect(slipPlaces([gain], [gain.card], 1, nowhere).get('gain.y')?.from).toBe('left');
});

test('of an output on the left everything is mirrored', () => {
  const left: SlipPort = { ...gain, x: 0, side: 'left' };
  expect(slipPlaces([left], [left.card], 2, undefined).get('gain.y')).toEqual({
    x: -14,
    y: 46,
    from: 'right',
    narrow: false,
  });
});
