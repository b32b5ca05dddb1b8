/** Where each block stands: on the plant side, on the controller side, or on the shore between them. */

import { namesIn } from '../language/walk.ts';
import type { Flat, FlatBlock, Source } from './expand.ts';

/** A block with channels stands on the shore: part of it is the bench's, part the program's. */
export type Side = 'plant' | 'controller' | 'shore';

export function resolveSides(flat: Flat): Map<string, Side> {
  const sides = new Map<string, Side>();
  for (const [path, block] of flat.blocks) sides.set(path, ownSide(block));
  const fromPlant = (source: Source): boolean => {
    const side = sides.get(source.path);
    return side === 'plant' || (side === 'shore' && isActuated(flat.blocks.get(source.path), source.port));
  };
  for (let changed = true; changed; ) {
    changed = false;
    for (const [path, block] of flat.blocks) {
      if (sides.get(path) !== 'controller' || block.side !== undefined || block.text.side !== undefined) continue;
      if (block.wires.size === 0 || ![...block.wires.values()].every(fromPlant)) continue;
      sides.set(path, 'plant');
      changed = true;
    }
  }
  return sides;
}

function ownSide(block: FlatBlock): Side {
  const { text } = block;
  if (text.channels.length > 0) return 'shore';
  const said = block.side ?? text.side;
  if (said !== undefined) return said;
  return text.memories.some((memory) => memory.kind === 'state') || block.shelf === 'plant' ? 'plant' : 'controller';
}

/** Whether an output of a block on the shore is what an actuator does to the plant. */
function isActuated(block: FlatBlock | undefined, port: string): boolean {
  if (block === undefined) return false;
  const bench = new Set(block.text.channels.filter((c) => c.direction === 'out').map((c) => c.name));
  for (let grew = true; grew; ) {
    grew = false;
    for (const equation of block.text.equations) {
      if (equation.kind !== 'plain' || bench.has(equation.name)) continue;
      if (namesIn(equation.value).some((name) => bench.has(name))) {
        bench.add(equation.name);
        grew = true;
      }
    }
  }
  return bench.has(port);
}
