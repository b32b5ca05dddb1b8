/** Cards as nodes of the canvas library: sizes known before mounting, old objects reused. */
import type { Node } from 'reactflow';
import type { Placed, Scene } from '../scene.ts';

export type CardNode = Node<{ readonly placed: Placed; readonly path: string }, 'card'>;

/** Makes the nodes of a scene; a card that did not change keeps its node. Ids survive renames. */
export function createNodes(
  idOf: (scope: string, name: string) => string,
): (scene: Scene, selection: readonly string[]) => CardNode[] {
  let last = new Map<string, CardNode>();
  return (scene, selection) => {
    const chosen = new Set(selection);
    const next = new Map<string, CardNode>();
    for (const placed of scene.cards.values()) {
      const id = idOf(scene.scope, placed.name);
      const before = last.get(id);
      const selected = chosen.has(placed.name);
      const node =
        before?.data.placed === placed && before.data.path === scene.path && before.selected === selected
          ? before
          : {
              id,
              type: 'card' as const,
              position: { x: placed.x, y: placed.y },
              width: placed.card.width,
              height: placed.card.height,
              handles: [],
              connectable: false,
              selected,
              data: { placed, path: scene.path },
            };
      next.set(id, node);
    }
    last = next;
    return [...next.values()];
  };
}
