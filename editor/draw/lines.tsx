/** All lines of the paper in one layer: trunks, branching dots, arrowheads, widths, and the strip along each that can be picked. */
import { memo } from 'react';
import type { Point } from '../../compiler/picture/marks.ts';
import type { Route } from '../../compiler/picture/router.ts';
import { focusPaper } from '../focus.ts';
import { thingId } from '../session.ts';
import { useSession, useWorkbench } from '../workbench.ts';
import type { PortPlace, Scene } from './scene.ts';

export function Lines({ scene }: { scene: Scene }) {
  return (
    <svg className="lines" aria-hidden="true">
      {Object.entries(scene.routes).map(([output, route]) => (
        <Net key={output} route={route} from={scene.ports.get(output)} ports={scene.ports} />
      ))}
    </svg>
  );
}

interface NetProperties {
  readonly route: Route;
  readonly from: PortPlace | undefined;
  readonly ports: Scene['ports'];
}

const Net = memo(function Net({ route, from, ports }: NetProperties) {
  return (
    <g
      className="net"
      data-logic={from?.logic || undefined}
      data-blocked={route.blocked || undefined}
      data-net={route.net}
    >
      {route.lines.map((points) => (
        <path key={pathOf(points)} className="line" d={pathOf(points)} />
      ))}
      {route.dots.map(({ x, y }) => (
        <circle key={`${x} ${y}`} className="dot" cx={x} cy={y} r={3.4} />
      ))}
      {Object.entries(route.leaves).map(([input, points]) => (
        <Leaf key={input} input={input} points={points} port={ports.get(input)} />
      ))}
      {from !== undefined && from.size > 1 && <Width at={route.lines[0]} size={from.size} />}
    </g>
  );
});

/** One wire of a net: its arrowhead, and a wide unseen strip to pick it by. */
function Leaf({ input, points, port }: { input: string; points: readonly Point[]; port: PortPlace | undefined }) {
  const { session } = useWorkbench();
  const marked = useSession(({ mark }) => mark?.on === 'line' && mark.at === input);
  const flash = useSession((state) => state.flash === input);
  const d = pathOf(points);
  return (
    <g id={thingId({ on: 'line', at: input })} data-marked={marked || undefined} data-flash={flash || undefined}>
      {marked && <path className="line_chosen" d={d} />}
      <path
        className="line_strip nopan"
        d={d}
        data-line={input}
        onPointerDown={(event) => {
          if (event.button !== 0) return;
          event.stopPropagation();
          focusPaper();
          session.setState({ mark: { on: 'line', at: input }, selection: [] });
        }}
      />
      {port !== undefined && <path className="arrow" d={arrowOf(port)} />}
    </g>
  );
}

/** A slash and the number of values, near the start of a line. */
function Width({ at, size }: { at: readonly Point[] | undefined; size: number }) {
  const [a, b] = at ?? [];
  if (a === undefined || b === undefined) return null;
  const length = Math.abs(b.x - a.x) + Math.abs(b.y - a.y);
  const part = Math.min(18, length / 2) / (length || 1);
  const [x, y] = [a.x + (b.x - a.x) * part, a.y + (b.y - a.y) * part];
  return (
    <g className="width">
      <path d={`M${x - 3} ${y + 5}L${x + 3} ${y - 5}`} />
      <text x={x + 4} y={y - 5}>
        {size}
      </text>
    </g>
  );
}

export function pathOf(points: readonly Point[]): string {
  return points.map(({ x, y }, index) => `${index === 0 ? 'M' : 'L'}${x} ${y}`).join('');
}

/** A slender arrowhead that ends at the port, along the way a line enters there. */
function arrowOf({ x, y, side }: PortPlace): string {
  const [dx, dy] = { left: [-1, 0], right: [1, 0], top: [0, -1], bottom: [0, 1] }[side] as [number, number];
  const [long, wide] = [8, 3.2];
  return `M${x} ${y}L${x + dx * long - dy * wide} ${y + dy * long + dx * wide}L${x + dx * long + dy * wide} ${y + dy * long - dx * wide}Z`;
}
