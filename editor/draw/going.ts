/** Where the focus mark is and where it can go: along lines, between ports and branches, to the nearest card; and what is heard there. */
import type { Area } from '../../compiler/picture/marks.ts';
import { endOf } from '../document/edits.ts';
import { blockOf, type Mark, say } from '../session.ts';
import type { Workbench } from '../workbench.ts';
import type { Placed, Scene } from './scene.ts';

export type Way = 'left' | 'right' | 'up' | 'down';

/** Puts the focus mark on a thing, brings it into view and says what it is. */
export function goTo(workbench: Workbench, mark: Mark, select = true): void {
  const { session } = workbench;
  if (session.getState().view !== 'draw' && session.getState().under !== 'draw') session.setState({ view: 'draw' });
  session.setState({
    mark,
    ...(select && mark.on === 'block' ? { selection: [mark.at] } : select ? { selection: [] } : {}),
  });
  const scene = workbench.scene();
  const area = areaOf(scene, mark);
  if (area !== undefined) lookAt(workbench, area);
  say(session, spoken(scene, mark));
}

export function lookAt(workbench: Workbench, at: Area | 'all'): void {
  workbench.session.setState(({ look }) => ({ look: { at, count: (look?.count ?? 0) + 1 } }));
}

/** Where a thing is on the paper. */
export function areaOf(scene: Scene, mark: Mark): Area | undefined {
  if (mark.on === 'block') {
    const placed = scene.cards.get(mark.at);
    return placed === undefined
      ? undefined
      : { x: placed.x, y: placed.y, width: placed.card.width, height: placed.card.height };
  }
  const port = scene.ports.get(mark.at);
  return port === undefined ? undefined : { x: port.x - 8, y: port.y - 8, width: 16, height: 16 };
}

/** What a thing is, in words. */
export function spoken(scene: Scene, mark: Mark): string {
  if (mark.on === 'block') {
    const placed = scene.cards.get(mark.at);
    if (placed === undefined) return mark.at;
    const { kind } = placed.description;
    return [mark.at, kind === mark.at ? '' : kind, placed.card.spoken].filter((part) => part !== '').join(', ');
  }
  const { block: name, port } = endOf(mark.at);
  const block = name === '' ? 'the group' : name;
  if (mark.on === 'output') {
    const readers = readersOf(scene, mark.at);
    return `output ${port} of ${block}, ${readers.length === 0 ? 'feeds nothing yet' : `feeds ${readers.join(' and ')}`}`;
  }
  const source = scene.wires.get(mark.at);
  if (mark.on === 'input')
    return `input ${port} of ${block}, ${source === undefined ? 'takes nothing yet' : `takes ${source}`}`;
  return `line from ${source ?? 'nowhere'} to ${mark.at}`;
}

export function readersOf(scene: Scene, output: string): string[] {
  return [...scene.wires].filter(([, from]) => from === output).map(([to]) => to);
}

/** Where an arrow leads from a mark; the mark itself where it leads nowhere. */
export function stepFrom(scene: Scene, mark: Mark | undefined, way: Way): Mark | undefined {
  if (mark === undefined) return firstMark(scene);
  if (way === 'up' || way === 'down') return aside(scene, mark, way === 'down' ? 1 : -1);
  const flipped = scene.cards.get(blockOf(mark))?.description.flip === true && mark.on !== 'line';
  return along(scene, mark, (way === 'right') !== flipped) ?? mark;
}

/** The first card as one reads: the leftmost, then the topmost. */
export function firstMark(scene: Scene): Mark | undefined {
  const first = [...scene.cards.values()].sort((a, b) => a.x - b.x || a.y - b.y)[0];
  return first === undefined ? undefined : { on: 'block', at: first.name };
}

function along(scene: Scene, mark: Mark, onward: boolean): Mark | undefined {
  switch (mark.on) {
    case 'block': {
      const port = portsOfCard(scene, mark.at, onward ? 'out' : 'in')[0];
      return port === undefined ? undefined : { on: onward ? 'output' : 'input', at: port };
    }
    case 'output': {
      if (!onward) return blockOf(mark) === '' ? undefined : { on: 'block', at: blockOf(mark) };
      const reader = readersOf(scene, mark.at)[0];
      return reader === undefined ? undefined : { on: 'line', at: reader };
    }
    case 'line': {
      const source = scene.wires.get(mark.at);
      if (onward) return { on: 'input', at: mark.at };
      return source === undefined ? undefined : { on: 'output', at: source };
    }
    case 'input':
      if (onward) return blockOf(mark) === '' ? undefined : { on: 'block', at: blockOf(mark) };
      return scene.wires.has(mark.at) ? { on: 'line', at: mark.at } : undefined;
  }
}

function aside(scene: Scene, mark: Mark, by: 1 | -1): Mark {
  if (mark.on === 'block') return nearestCard(scene, mark, by === 1 ? 'down' : 'up') ?? mark;
  const among =
    mark.on === 'line'
      ? readersOf(scene, scene.wires.get(mark.at) ?? '')
      : portsOfCard(scene, blockOf(mark), mark.on === 'output' ? 'out' : 'in');
  const next = among[among.indexOf(mark.at) + by];
  return next === undefined ? mark : { on: mark.on, at: next };
}

function portsOfCard(scene: Scene, name: string, direction: 'in' | 'out'): string[] {
  if (name === '')
    return scene.ends.filter((end) => (end.direction === 'in') === (direction === 'out')).map((end) => end.name);
  const ports = scene.cards.get(name)?.card.ports.filter((port) => port.direction === direction) ?? [];
  return ports.map((port) => `${name}.${port.name}`);
}

/** The nearest card that lies more that way than aside. */
export function nearestCard(scene: Scene, mark: Mark | undefined, way: Way): Mark | undefined {
  const here = mark === undefined ? undefined : scene.cards.get(blockOf(mark));
  if (here === undefined) return firstMark(scene);
  const from = middleOf(here);
  let best: { name: string; price: number } | undefined;
  for (const placed of scene.cards.values()) {
    if (placed === here) continue;
    const to = middleOf(placed);
    const [dx, dy] = [to.x - from.x, to.y - from.y];
    const ahead = { left: -dx, right: dx, up: -dy, down: dy }[way];
    const off = way === 'left' || way === 'right' ? Math.abs(dy) : Math.abs(dx);
    if (ahead <= 0 || off > ahead * 2) continue;
    const price = ahead + 2 * off;
    if (best === undefined || price < best.price) best = { name: placed.name, price };
  }
  return best === undefined ? undefined : { on: 'block', at: best.name };
}

function middleOf({ x, y, card }: Placed): { x: number; y: number } {
  return { x: x + card.width / 2, y: y + card.height / 2 };
}
