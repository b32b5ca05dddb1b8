/** Puts a block from the shelf on the paper: beside the focus mark, at a place, into a line, wired where that is plain. */
import type { BlockOnSheet, Point } from '../../compiler/sheet/sheet.ts';
import { addBlock, endOf, freshName, groundOf, insertOnLine, wire } from '../document/edits.ts';
import { blockOf, type Finding, type Mark } from '../session.ts';
import type { Workbench } from '../workbench.ts';
import { fittingInput, newBlock, portsOf } from './fitting.ts';
import { goTo } from './going.ts';
import { GRID, type Scene, specimen } from './scene.ts';

/** Room left between cards that are put down by themselves. */
const GAP = 60;

/** `set`: settings it has from the start. */
export function addFromShelf(
  workbench: Workbench,
  is: string,
  asked: Partial<Finding> = {},
  set: BlockOnSheet['set'] = undefined,
): string | undefined {
  const { document, session } = workbench;
  const { scope, mark } = session.getState();
  const sheet = document.sheet();
  const place = groundOf(sheet, scope);
  if (place === undefined) return undefined;
  const scene = workbench.scene();
  const name = freshName(is, (one) => Object.hasOwn(place.blocks, one) || one === scope);
  const block: BlockOnSheet = { ...newBlock(sheet, is), ...(set === undefined ? {} : { set }) };
  const hanging = asked.from ?? (asked.at === undefined ? mark : undefined);
  const line = hanging?.on === 'line' ? hanging : undefined;
  const port =
    hanging?.on === 'output' || (hanging?.on === 'input' && !scene.wires.has(hanging.at)) ? hanging : undefined;
  const fits = port === undefined ? undefined : fittingInput(workbench, port, is);
  const { inputs, outputs } = portsOf(sheet, block);
  const passage = { input: inputs[0]?.name, output: outputs[0]?.name };
  const at = asked.at ?? placeBeside(scene, hanging, specimen(sheet, is, block));
  document.change(`add ${name}`, `${scope}/${name}`, (draft) => {
    addBlock(draft, scope, name, block, at);
    if (port !== undefined && fits !== undefined) {
      if (port.on === 'output') wire(draft, scope, port.at, `${name}.${fits}`);
      else wire(draft, scope, `${name}.${fits}`, port.at);
    }
    if (line !== undefined && passage.input !== undefined && passage.output !== undefined)
      insertOnLine(draft, scope, line.at, name, { input: passage.input, output: passage.output });
    return undefined;
  });
  goTo(workbench, { on: 'block', at: name });
  return name;
}

/** A free place to the right of what the mark is on (to its left for an input), level with the port where there is one. */
function placeBeside(scene: Scene, mark: Mark | undefined, size: ReturnType<typeof specimen>): Point {
  const beside =
    mark === undefined
      ? undefined
      : scene.cards.get(mark.on === 'line' ? endOf(scene.wires.get(mark.at) ?? '').block : blockOf(mark));
  if (beside === undefined) {
    const { bounds } = scene;
    return bounds === undefined ? [200, 200] : free(scene, [snap(bounds.x + bounds.width + GAP), snap(bounds.y)], size);
  }
  const left = mark?.on === 'input';
  const port =
    mark === undefined || mark.on === 'block'
      ? undefined
      : scene.ports.get(mark.on === 'line' ? (scene.wires.get(mark.at) ?? '') : mark.at);
  const ownPort = size.ports.find((one) => one.direction === (left ? 'out' : 'in'));
  const x = left ? beside.x - size.width - GAP : beside.x + beside.card.width + GAP;
  const y = port === undefined ? beside.y : port.y - (ownPort?.y ?? size.height / 2);
  return free(scene, [snap(x), snap(y)], size);
}

/** The place itself, or the next one below it where no card stands. */
function free(scene: Scene, [x, y]: Point, { width, height }: { width: number; height: number }): Point {
  const stands = (top: number) =>
    [...scene.cards.values()].some(
      (one) =>
        x < one.x + one.card.width + GRID &&
        one.x < x + width + GRID &&
        top < one.y + one.card.height + GRID &&
        one.y < top + height + GRID,
    );
  let top = y;
  while (stands(top)) top += GRID;
  return [x, top];
}

export function snap(value: number): number {
  return Math.round(value / GRID) * GRID;
}
