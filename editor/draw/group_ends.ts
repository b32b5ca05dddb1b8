/** The ports of a group as they stand on its own paper: what it takes on the left, what it gives on the right. */
import type { Area } from '../../compiler/picture/marks.ts';
import { textWidth } from '../../compiler/picture/metrics.ts';
import { entry, type Group, pointOf } from '../../compiler/sheet/sheet.ts';

/** One of a group's ports: a flag whose point is the line's end. */
export interface GroupEnd {
  readonly name: string;
  /** As the group has it: an `in` feeds what is inside. */
  readonly direction: 'in' | 'out';
  readonly area: Area;
}

const HEIGHT = 30;
const APART = 50;
const AWAY = 140;

/** Levels are those of the port inside that each is wired to, as far as there is room; those placed by hand stay. */
export function groupEnds(
  group: Group,
  bounds: Area | undefined,
  levelOf: (end: string) => number | undefined,
): GroupEnd[] {
  const { x = 0, y = 0, width = 400 } = bounds ?? {};
  return (['in', 'out'] as const).flatMap((direction) => {
    const names = Object.keys(group.ports).filter((name) => direction in (group.ports[name] ?? {}));
    const wished = names.map((name) => ({ name, level: wish(group, name, levelOf) ?? y }));
    wished.sort((a, b) => a.level - b.level || (a.name < b.name ? -1 : 1));
    let below = Number.NEGATIVE_INFINITY;
    return wished.map(({ name, level }): GroupEnd => {
      const wide = Math.ceil((textWidth(name, 14) + 34) / 10) * 10;
      const spot = entry(group.layout, name);
      if (spot !== undefined) {
        const [left, top] = pointOf(spot);
        return { name, direction, area: { x: left, y: top, width: wide, height: HEIGHT } };
      }
      below = Math.max(level - HEIGHT / 2, below + APART);
      const left = direction === 'in' ? x - AWAY - wide : x + width + AWAY;
      return { name, direction, area: { x: Math.round(left), y: below, width: wide, height: HEIGHT } };
    });
  });
}

/** The level of the first port inside that a group's port is wired to. */
function wish(group: Group, name: string, levelOf: (end: string) => number | undefined): number | undefined {
  const source = entry(group.wires, name);
  const ends =
    source === undefined ? Object.entries(group.wires).flatMap(([to, from]) => (from === name ? [to] : [])) : [source];
  const levels = ends.flatMap((end) => levelOf(end) ?? []);
  return levels.length === 0 ? undefined : Math.min(...levels);
}

/** The flag's outline: pointed where lines leave or come in. */
export function flagOutline({ direction, area: { width, height } }: GroupEnd): string {
  const tip = 10;
  return direction === 'in'
    ? `M0 0H${width - tip}L${width} ${height / 2}L${width - tip} ${height}H0Z`
    : `M${tip} 0H${width}V${height}H${tip}L0 ${height / 2}Z`;
}
