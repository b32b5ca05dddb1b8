/** The plant ground: a flat tint under the plant side, hatched along its shore. */
import type { Scene } from './scene.ts';

export function Ground(_: { scene: Scene }) {
  return null;
}
