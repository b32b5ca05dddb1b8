/** Places the cards anew in signal order, the plant side below the controller; the only user of the layout library, loaded when asked for. */
import type { ElkNode } from 'elkjs/lib/elk-api';
import ELK from 'elkjs/lib/elk-api';
import workerAddress from 'elkjs/lib/elk-worker.min.js?url';
import type { Point } from '../../compiler/sheet/sheet.ts';
import { snap } from './adding.ts';
import type { Placed, Scene } from './scene.ts';

/** Between the two sides, px. */
const APART = 120;

/** New places by name. Cards keep the way they are turned; a side whose cards are mostly turned runs from right to left. */
export async function tidyPlaces(scene: Scene): Promise<Record<string, Point>> {
  const elk = new ELK({ workerFactory: () => new Worker(workerAddress) });
  try {
    const cards = [...scene.cards.values()];
    const isPlant = ({ description }: Placed) => description.ground === 'all';
    const above = await placed(
      elk,
      scene,
      cards.filter((card) => !isPlant(card)),
    );
    const below = await placed(elk, scene, cards.filter(isPlant));
    const places: Record<string, Point> = {};
    const corner: Point = [snap(scene.bounds?.x ?? 0), snap(scene.bounds?.y ?? 0)];
    let top = corner[1];
    for (const graph of [above, below]) {
      for (const { id, x = 0, y = 0 } of graph.children ?? []) places[id] = [snap(corner[0] + x), snap(top + y)];
      top += (graph.height ?? 0) + APART;
    }
    return places;
  } finally {
    elk.terminateWorker();
  }
}

function placed(elk: InstanceType<typeof ELK>, scene: Scene, cards: readonly Placed[]): Promise<ElkNode> {
  const inside = new Set(cards.map((card) => card.name));
  const turned = cards.filter((card) => card.description.flip).length > cards.length / 2;
  const edges = [...scene.wires].flatMap(([to, from]) => {
    const [target, source] = [scene.ports.get(to), scene.ports.get(from)];
    if (target === undefined || source === undefined || !inside.has(target.card) || !inside.has(source.card)) return [];
    return [{ id: to, sources: [`out ${from}`], targets: [`in ${to}`] }];
  });
  return elk.layout({
    id: 'sheet',
    layoutOptions: {
      'elk.algorithm': 'layered',
      'elk.direction': turned ? 'LEFT' : 'RIGHT',
      'elk.edgeRouting': 'ORTHOGONAL',
      'elk.spacing.nodeNode': '50',
      'elk.layered.spacing.nodeNodeBetweenLayers': '90',
      'elk.layered.nodePlacement.strategy': 'NETWORK_SIMPLEX',
      'elk.padding': '[top=0,left=0,bottom=0,right=0]',
    },
    children: cards.map(({ name, card }) => ({
      id: name,
      width: card.width,
      height: card.height,
      layoutOptions: { 'elk.portConstraints': 'FIXED_POS' },
      ports: card.ports.map((port) => ({
        id: `${port.direction} ${name}.${port.name}`,
        x: port.x,
        y: port.y,
        width: 0,
        height: 0,
        layoutOptions: { 'elk.port.side': { left: 'WEST', right: 'EAST', top: 'NORTH', bottom: 'SOUTH' }[port.side] },
      })),
    })),
    edges,
  });
}
