/** The plant ground: it holds what stands on it, has square corners, and ends at the shore. */

import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import type { GroundPart } from '../../compiler/picture/ground.ts';
import { GROUND_MARGIN, groundOutline } from '../../compiler/picture/ground.ts';
import type { Point } from '../../compiler/picture/marks.ts';

/** Even–odd rule, by a ray to the right. */
function isInside(loops: readonly (readonly Point[])[], x: number, y: number): boolean {
  let crossings = 0;
  for (const loop of loops)
    loop.forEach((a, i) => {
      const b = loop[(i + 1) % loop.length];
      if (b !== undefined && a.x === b.x && a.x > x && Math.min(a.y, b.y) < y && Math.max(a.y, b.y) > y) crossings++;
    });
  return crossings % 2 === 1;
}

const cards = fc.array(
  fc.record({
    x: fc.integer({ min: 0, max: 60 }).map((n) => n * 10),
    y: fc.integer({ min: 0, max: 40 }).map((n) => n * 10),
    width: fc.integer({ min: 4, max: 16 }).map((n) => n * 10),
    height: fc.integer({ min: 4, max: 12 }).map((n) => n * 10),
  }),
  { minLength: 1, maxLength: 8 },
);

test('no parts, no ground', () => {
  expect(groundOutline([], [])).toEqual({ loops: [], d: '' });
});

test('a lone card has an island of its own, 28 px round it', () => {
  const { loops } = groundOutline([{ x: 100, y: 50, width: 80, height: 60 }], []);
  expect(loops.length).toBe(1);
  expect(new Set(loops[0]?.map(({ x, y }) => `${x},${y}`))).toEqual(new Set(['72,22', '208,22', '208,138', '72,138']));
});

describe('any plant', () => {
  test('is bounded by closed loops of level and upright edges', () => {
    fc.assert(
      fc.property(cards, (parts) => {
        for (const loop of groundOutline(parts, []).loops)
          loop.forEach((a, i) => {
            const b = loop[(i + 1) % loop.length];
            const c = loop[(i + 2) % loop.length];
            expect((a.x === b?.x) !== (a.y === b?.y)).toBe(true);
            expect((a.x === b?.x) !== (b?.x === c?.x)).toBe(true);
          });
      }),
      { seed: 1, numRuns: 100 },
    );
  });

  test('holds every card with its margin, and nothing far from all of them', () => {
    fc.assert(
      fc.property(cards, (parts) => {
        const { loops } = groundOutline(parts, []);
        for (const { x, y, width, height } of parts)
          for (const [dx, dy] of [
            [-27, -27],
            [width + 27, -27],
            [-27, height + 27],
            [width + 27, height + 27],
            [width / 2 + 0.5, height / 2 + 0.5],
          ] as const)
            expect(isInside(loops, x + dx, y + dy)).toBe(true);
        const left = Math.min(...parts.map((part) => part.x)) - GROUND_MARGIN;
        const top = Math.min(...parts.map((part) => part.y)) - GROUND_MARGIN;
        expect(isInside(loops, left - 1, top + 5)).toBe(false);
        expect(isInside(loops, left + 5, top - 1)).toBe(false);
      }),
      { seed: 2, numRuns: 100 },
    );
  });
});

test('lines between plant cards are on it, and narrow bays are filled', () => {
  const parts: GroundPart[] = [
    { x: 0, y: 0, width: 80, height: 80 },
    { x: 300, y: 200, width: 80, height: 80 },
    { x: 170, y: 0, width: 80, height: 80 },
  ];
  const line = [
    { x: 80, y: 50 },
    { x: 120, y: 50 },
    { x: 120, y: 240 },
    { x: 300, y: 240 },
  ];
  const { loops } = groundOutline(parts, [line]);
  expect(isInside(loops, 120.5, 150.5)).toBe(true);
  expect(isInside(loops, 126.5, -10.5)).toBe(true);
  expect(isInside(loops, 250.5, 160.5)).toBe(false);
});

test('a hole stays only where a card of the controller stands in it', () => {
  const ring = [
    { x: 0, y: 0 },
    { x: 400, y: 0 },
    { x: 400, y: 400 },
    { x: 0, y: 400 },
    { x: 0, y: 0 },
  ];
  const inside = { x: 150, y: 150, width: 80, height: 80 };
  expect(groundOutline([], [ring]).loops.length).toBe(1);
  expect(groundOutline([], [ring], [inside]).loops.length).toBe(2);
});

test('a sensor has only its plant half on it: the shore runs through its middle', () => {
  const { loops } = groundOutline([{ x: 100, y: 0, width: 50, height: 80, shore: 'left' }], []);
  expect(isInside(loops, 101, 40.5)).toBe(true);
  expect(isInside(loops, 99, 40.5)).toBe(false);
  expect(isInside(loops, 170, 40.5)).toBe(true);
});
