/** Taking hold of a line: dragging one of its segments aside holds the line to it. */
import type { Point as Place } from '../../compiler/picture/marks.ts';
import type { Segment } from '../../compiler/sheet/sheet.ts';
import { holdLine } from '../document/remarks.ts';
import type { Workbench } from '../workbench.ts';
import { paperPoint } from './connect.ts';
import { GRID } from './scene.ts';

/** Follows the pointer from a press on a line; nothing is changed until it has gone a little way. */
export function pressLine(workbench: Workbench, input: string, points: readonly Place[], press: PointerEvent): void {
  const { document, session } = workbench;
  if (session.getState().scope !== '' || document.locked() !== undefined) return;
  const start = paperPoint(workbench, press.clientX, press.clientY);
  const held = segmentAt(points, start);
  if (held === undefined) return;
  const [from, to] = held;
  const level = from.y === to.y;
  const others = (document.sheet().desk.lines[input] ?? []).filter((segment) => !sameLine(segment, from, to));
  const bentTo = (event: PointerEvent): readonly Segment[] => {
    const [x, y] = paperPoint(workbench, event.clientX, event.clientY);
    const along = Math.round(((level ? y : x) * 2) / GRID) * (GRID / 2);
    const segment: Segment = level
      ? [
          [from.x, along],
          [to.x, along],
        ]
      : [
          [along, from.y],
          [along, to.y],
        ];
    return [...others, segment];
  };
  let stirred = false;
  const onMove = (event: PointerEvent) => {
    stirred ||= Math.hypot(event.clientX - press.clientX, event.clientY - press.clientY) > 5;
    if (stirred) session.setState({ bent: { [input]: bentTo(event) } });
  };
  const onUp = (event: PointerEvent) => {
    removeEventListener('pointermove', onMove);
    removeEventListener('pointerup', onUp);
    session.setState({ bent: {} });
    if (stirred)
      document.change(`hold the line to ${input}`, `/${input}`, (sheet) => void holdLine(sheet, input, bentTo(event)));
  };
  addEventListener('pointermove', onMove);
  addEventListener('pointerup', onUp);
}

/** The segment under a place, if it is not the one that leaves or enters a port. */
function segmentAt(points: readonly Place[], [x, y]: readonly [number, number]): [Place, Place] | undefined {
  let best: { segment: [Place, Place]; distance: number } | undefined;
  for (let index = 1; index + 2 < points.length; index++) {
    const [a, b] = [points[index], points[index + 1]];
    if (a === undefined || b === undefined) continue;
    const inside = (value: number, one: number, other: number) =>
      Math.max(Math.min(one, other) - value, 0, value - Math.max(one, other));
    const distance = Math.hypot(inside(x, a.x, b.x), inside(y, a.y, b.y));
    if (best === undefined || distance < best.distance) best = { segment: [a, b], distance };
  }
  return best !== undefined && best.distance < 10 ? best.segment : undefined;
}

function sameLine([[ax, ay], [bx, by]]: Segment, from: Place, to: Place): boolean {
  return ax === bx ? from.x === to.x && from.x === ax : from.y === to.y && from.y === ay && ay === by;
}
