/** Routes: what must hold for any layout. Layouts are made from seeds, so that a failing one can be seen again. */

import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import type { Area, Point } from '../../compiler/picture/marks.ts';
import type { Net, Route, RoutePort, RouteRequest } from '../../compiler/picture/router.ts';
import { routeNets } from '../../compiler/picture/router.ts';

interface Layout {
  readonly cards: Record<string, Area>;
  readonly nets: Net[];
}

/** Cards at random places of a loose grid, wired at random; `sides` also uses ports above and below. */
function layoutFrom(seed: number, count: number): Layout {
  let state = seed >>> 0;
  const random = (below: number) => {
    state = (Math.imul(state, 1664525) + 1013904223) >>> 0;
    return Math.floor((state / 2 ** 32) * below);
  };
  const columns = Math.ceil(Math.sqrt(count));
  const cards: Record<string, Area> = {};
  const outputs: RoutePort[] = [];
  const inputs: RoutePort[] = [];
  for (let k = 0; k < count; k++) {
    const card = `c${k}`;
    const width = 80 + 20 * random(6);
    const height = 110 + 10 * random(3);
    const x = (k % columns) * 280 + 10 * random(6);
    const y = Math.floor(k / columns) * 190 + 10 * random(4);
    cards[card] = { x, y, width, height };
    const flip = random(4) === 0;
    const front = flip ? { x: x + width, side: 'right' as const } : { x, side: 'left' as const };
    const back = flip ? { x, side: 'left' as const } : { x: x + width, side: 'right' as const };
    for (let i = 0; i <= random(3); i++) inputs.push({ name: `${card}.i${i}`, card, y: y + 50 + 20 * i, ...front });
    if (random(3) === 0) inputs.push({ name: `${card}.below`, card, x: x + width - 20, y: y + height, side: 'bottom' });
    for (let i = 0; i <= random(2); i++) outputs.push({ name: `${card}.o${i}`, card, y: y + 50 + 20 * i, ...back });
  }
  const nets = new Map<string, { from: RoutePort; to: RoutePort[] }>();
  for (const input of inputs) {
    const output = outputs[random(outputs.length)];
    if (output === undefined || random(5) === 0) continue;
    const net = nets.get(output.name) ?? { from: output, to: [] };
    net.to.push(input);
    nets.set(output.name, net);
  }
  return { cards, nets: [...nets.values()] };
}

type Step = readonly [Point, Point];

function steps(line: readonly Point[]): Step[] {
  return line.slice(1).flatMap((to, i) => {
    const from = line[i];
    return from === undefined ? [] : [[from, to] as const];
  });
}

function crosses([a, b]: Step, card: Area): boolean {
  return (
    Math.max(a.x, b.x) > card.x &&
    Math.min(a.x, b.x) < card.x + card.width &&
    Math.max(a.y, b.y) > card.y &&
    Math.min(a.y, b.y) < card.y + card.height
  );
}

/** Length two stretches run along each other. */
function shared([a, b]: Step, [c, d]: Step): number {
  if (a.x === b.x && c.x === d.x && a.x === c.x)
    return Math.min(Math.max(a.y, b.y), Math.max(c.y, d.y)) - Math.max(Math.min(a.y, b.y), Math.min(c.y, d.y));
  if (a.y === b.y && c.y === d.y && a.y === c.y)
    return Math.min(Math.max(a.x, b.x), Math.max(c.x, d.x)) - Math.max(Math.min(a.x, b.x), Math.min(c.x, d.x));
  return 0;
}

function length(line: readonly Point[]): number {
  return steps(line).reduce((sum, [a, b]) => sum + Math.abs(a.x - b.x) + Math.abs(a.y - b.y), 0);
}

function check(route: Route, net: Net, cards: Record<string, Area>): void {
  expect(route.blocked, route.net).toBe(false);
  expect(Object.keys(route.leaves).sort()).toEqual(net.to.map((port) => port.name).sort());
  for (const port of net.to) {
    const leaf = route.leaves[port.name] ?? [];
    expect(leaf[0]).toEqual({ x: net.from.x, y: net.from.y });
    expect(leaf.at(-1)).toEqual({ x: port.x, y: port.y });
  }
  for (const line of [...route.lines, ...Object.values(route.leaves)])
    for (const step of steps(line)) {
      const [a, b] = step;
      expect((a.x === b.x) !== (a.y === b.y), `${route.net} is level or upright`).toBe(true);
      for (const [name, card] of Object.entries(cards))
        expect(crosses(step, card), `${route.net} over ${name}`).toBe(false);
    }
  // A tree: branches join at dots, and nothing is drawn twice or left over.
  const ends = route.lines.flatMap((line) => [line[0], line.at(-1)].map((point) => `${point?.x},${point?.y}`));
  const ports = [net.from, ...net.to].map((port) => `${port.x},${port.y}`);
  const dots = route.dots.map((dot) => `${dot.x},${dot.y}`);
  for (const end of ends) expect([...ports, ...dots]).toContain(end);
  for (const dot of dots) expect(ends.filter((end) => end === dot).length).toBeGreaterThanOrEqual(3);
  expect(route.lines.length).toBe(1 + dots.reduce((sum, dot) => sum + ends.filter((end) => end === dot).length - 1, 0));
  const all = route.lines.flatMap(steps);
  all.forEach((step, i) => {
    for (const other of all.slice(i + 1))
      expect(shared(step, other), `${route.net} drawn twice`).toBeLessThanOrEqual(0);
  });
}

describe('any layout', () => {
  test('every line reaches its ports, level and upright, round every card, as a tree', () => {
    fc.assert(
      fc.property(fc.integer({ min: 0, max: 2 ** 31 }), fc.integer({ min: 2, max: 20 }), (seed, count) => {
        const { cards, nets } = layoutFrom(seed, count);
        const routes = routeNets({ cards, nets });
        for (const net of nets) {
          const route = routes[net.from.name];
          expect(route).toBeDefined();
          if (route !== undefined) check(route, net, cards);
        }
      }),
      { seed: 7, numRuns: 60 },
    );
  });

  test('is routed the same way every time', () => {
    const { cards, nets } = layoutFrom(3, 16);
    expect(routeNets({ cards, nets })).toEqual(routeNets({ cards, nets }));
  });

  test('no two nets lie on each other', () => {
    for (let seed = 1; seed <= 12; seed++) {
      const { cards, nets } = layoutFrom(seed, 16);
      const routes = Object.values(routeNets({ cards, nets }));
      routes.forEach((route, i) => {
        for (const other of routes.slice(i + 1))
          for (const a of route.lines.flatMap(steps))
            for (const b of other.lines.flatMap(steps))
              expect(shared(a, b), `${route.net} on ${other.net}, seed ${seed}`).toBeLessThanOrEqual(0);
      });
    }
  });
});

describe('routing again', () => {
  const coordinates = (route: Route | undefined) => JSON.stringify([route?.lines, route?.dots, route?.leaves]);

  test('a net neither touched nor newly blocked keeps every coordinate', () => {
    fc.assert(
      fc.property(fc.integer({ min: 0, max: 2 ** 31 }), (seed) => {
        const { cards, nets } = layoutFrom(seed, 16);
        const old = routeNets({ cards, nets });
        const moved = 'c5';
        const area = cards[moved];
        if (area === undefined) return;
        const by = { x: 30, y: 20 };
        const shift = <T extends Point>(thing: T): T => ({ ...thing, x: thing.x + by.x, y: thing.y + by.y });
        const after: RouteRequest = {
          cards: { ...cards, [moved]: shift(area) },
          nets: nets.map((net) => ({
            from: net.from.card === moved ? shift(net.from) : net.from,
            to: net.to.map((port) => (port.card === moved ? shift(port) : port)),
          })),
          old,
        };
        const routes = routeNets(after);
        const place = after.cards[moved];
        for (const net of after.nets) {
          const isTouched = [net.from, ...net.to].some((port) => port.card === moved);
          const isBlocked = old[net.from.name]?.lines
            .flatMap(steps)
            .some((step) => place !== undefined && crosses(step, place));
          if (isTouched || isBlocked === true) continue;
          expect(coordinates(routes[net.from.name])).toBe(coordinates(old[net.from.name]));
        }
      }),
      { seed: 11, numRuns: 30 },
    );
  });

  test('a card laid over a line makes only that line go round', () => {
    const port = (name: string, card: string, x: number, y: number, side: 'left' | 'right'): RoutePort => ({
      name,
      card,
      x,
      y,
      side,
    });
    const cards: Record<string, Area> = {
      a: { x: 0, y: 0, width: 80, height: 80 },
      b: { x: 600, y: 0, width: 80, height: 80 },
      c: { x: 0, y: 300, width: 80, height: 80 },
      d: { x: 600, y: 300, width: 80, height: 80 },
    };
    const nets = [
      { from: port('a.y', 'a', 80, 50, 'right'), to: [port('b.u', 'b', 600, 50, 'left')] },
      { from: port('c.y', 'c', 80, 350, 'right'), to: [port('d.u', 'd', 600, 350, 'left')] },
    ];
    const old = routeNets({ cards, nets });
    expect(old['a.y']?.lines).toEqual([
      [
        { x: 80, y: 50 },
        { x: 600, y: 50 },
      ],
    ]);
    const laid = { ...cards, e: { x: 300, y: 10, width: 100, height: 80 } };
    const routes = routeNets({ cards: laid, nets, old });
    expect(routes['c.y']).toBe(old['c.y']);
    const [line] = routes['a.y']?.lines ?? [];
    expect(line?.length).toBe(6);
    if (routes['a.y'] !== undefined && nets[0] !== undefined) check(routes['a.y'], nets[0], laid);
    expect(length(line ?? [])).toBeLessThan(520 + 200);
  });
});

describe('pinned segments', () => {
  const port = (name: string, card: string, x: number, y: number, side: 'left' | 'right'): RoutePort => ({
    name,
    card,
    x,
    y,
    side,
  });
  const cards: Record<string, Area> = {
    a: { x: 0, y: 0, width: 80, height: 80 },
    b: { x: 600, y: 200, width: 80, height: 80 },
    c: { x: 250, y: 60, width: 100, height: 100 },
  };
  const net: Net = { from: port('a.y', 'a', 80, 50, 'right'), to: [port('b.u', 'b', 600, 250, 'left')] };

  test('are kept, whatever else would be shorter', () => {
    const pinned = { 'b.u': [{ from: { x: 480, y: 100 }, to: { x: 480, y: 200 } }] };
    const route = routeNets({ cards, nets: [net], pinned })['a.y'];
    expect(route?.leaves['b.u']?.some((point, i, leaf) => point.x === 480 && leaf[i + 1]?.x === 480)).toBe(true);
    if (route !== undefined) check(route, net, cards);
  });

  test('win over avoiding cards, and say so', () => {
    const pinned = { 'b.u': [{ from: { x: 200, y: 100 }, to: { x: 450, y: 100 } }] };
    const route = routeNets({ cards, nets: [net], pinned })['a.y'];
    expect(route?.under).toEqual([{ card: 'c', segment: { from: { x: 250, y: 100 }, to: { x: 350, y: 100 } } }]);
    expect(route?.blocked).toBe(false);
  });
});

test('a line that finds no way goes straight through and says so', () => {
  const cards = { a: { x: 0, y: 0, width: 80, height: 80 }, b: { x: 70, y: 0, width: 80, height: 80 } };
  const net: Net = {
    from: { name: 'a.y', card: 'a', x: 80, y: 50, side: 'right' },
    to: [{ name: 'b.u', card: 'b', x: 70, y: 50, side: 'left' }],
  };
  const route = routeNets({ cards, nets: [net] })['a.y'];
  expect(route?.blocked).toBe(true);
  expect(route?.leaves['b.u']?.at(-1)).toEqual({ x: 70, y: 50 });
});

test('in haste a long line is rough, and is settled the next time', () => {
  const cards = { a: { x: 0, y: 0, width: 80, height: 80 }, b: { x: 2000, y: 600, width: 80, height: 80 } };
  const net: Net = {
    from: { name: 'a.y', card: 'a', x: 80, y: 50, side: 'right' },
    to: [{ name: 'b.u', card: 'b', x: 2000, y: 650, side: 'left' }],
  };
  const quick = routeNets({ cards, nets: [net], quick: true });
  expect(quick['a.y']?.rough).toBe(true);
  const settled = routeNets({ cards, nets: [net], old: quick });
  expect(settled['a.y']?.rough).toBe(false);
});
