/** The ports of a group as they stand on its own paper: what it takes on the left, what it gives on the right. */
import type { Card } from '../../compiler/picture/card_size.ts';
import { describePort } from '../../compiler/picture/describe.ts';
import type { Area } from '../../compiler/picture/marks.ts';
import { flagPlaces, layoutFlag } from '../../compiler/picture/port_flags.ts';
import { entry, type Group, pointOf } from '../../compiler/sheet/sheet.ts';

/** One of a group's ports where it stands. */
export interface GroupEnd {
  readonly name: string;
  /** As the group has it: an `in` feeds what is inside. */
  readonly direction: 'in' | 'out';
  readonly card: Card;
  readonly x: number;
  readonly y: number;
}

/** Those placed by hand stay; the others are level with the ports inside they are joined to. */
export function groupEnds(
  group: Group,
  bounds: Area | undefined,
  levelOf: (end: string) => number | undefined,
): GroupEnd[] {
  const flags = Object.keys(group.ports).flatMap((name) => {
    const described = describePort(name, group.ports[name]);
    if (described === undefined) return [];
    const { port, direction } = described;
    const source = entry(group.wires, name);
    const joined =
      source === undefined
        ? Object.entries(group.wires).flatMap(([to, from]) => (from === name ? [to] : []))
        : [source];
    const card = layoutFlag(port, direction);
    return [{ name, direction, card, width: card.width, levels: joined.flatMap((end) => levelOf(end) ?? []) }];
  });
  const { x = 0, y = 0, width = 400 } = bounds ?? {};
  const places = flagPlaces(flags, x, x + width, y);
  return flags.map(({ name, direction, card }) => {
    const spot = entry(group.layout, name);
    if (spot === undefined) return { name, direction, card, ...(places[name] ?? { x, y }) };
    const [left, top] = pointOf(spot);
    return { name, direction, card, x: left, y: top };
  });
}
