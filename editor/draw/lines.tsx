/** All lines of the paper in one layer: trunks, branching dots, arrowheads, widths, rates crossed; and the strip along each to pick it by. */
import { memo, type RefObject, useEffect, useMemo, useState } from 'react';
import type { StoreApi } from 'zustand/vanilla';
import { lineMarks, openEnd, polyline } from '../../compiler/picture/line_marks.ts';
import type { Area, Point } from '../../compiler/picture/marks.ts';
import { tapMarks } from '../../compiler/picture/remarks.ts';
import type { Route } from '../../compiler/picture/router.ts';
import { crossingOf } from '../../compiler/picture/sheet_picture.ts';
import { focusPaper } from '../focus.ts';
import { Marks } from '../parts/formula.tsx';
import { thingId, type Viewport } from '../session.ts';
import { useSession, useWorkbench } from '../workbench.ts';
import { pressLine } from './bending.ts';
import type { Scene } from './scene.ts';

/** Up to so many nets are drawn wherever they are. */
const FEW = 150;

export function Lines({ scene, live, frame }: LinesProperties) {
  const seen = useSeen(live, frame);
  const routes = Object.entries(scene.routes);
  const drawn =
    routes.length <= FEW || seen === undefined ? routes : routes.filter(([, route]) => touches(boxOf(route), seen));
  return (
    <svg className="lines" aria-hidden="true">
      <OpenEnds scene={scene} />
      <TornEnds scene={scene} />
      {drawn.map(([output, route]) => (
        <Net key={output} route={route} facts={factsOf(scene, route)} />
      ))}
    </svg>
  );
}

interface LinesProperties {
  readonly scene: Scene;
  readonly live: StoreApi<Viewport>;
  readonly frame: RefObject<HTMLElement | null>;
}

/** The part of the paper whose lines are drawn: what is in view and as much again on every side, anew once the view leaves it. */
function useSeen(live: StoreApi<Viewport>, frame: RefObject<HTMLElement | null>): Area | undefined {
  const [seen, setSeen] = useState<Area | undefined>();
  useEffect(() => {
    const look = ({ x, y, zoom }: Viewport) => {
      const { clientWidth = 0, clientHeight = 0 } = frame.current ?? {};
      const view = { x: -x / zoom, y: -y / zoom, width: clientWidth / zoom, height: clientHeight / zoom };
      setSeen((before) => (before !== undefined && holds(before, view) ? before : grown(view)));
    };
    look(live.getState());
    return live.subscribe(look);
  }, [live, frame]);
  return seen;
}

function grown({ x, y, width, height }: Area): Area {
  return { x: x - width, y: y - height, width: 3 * width, height: 3 * height };
}

/** Whether the outer area holds the inner one and is not far too large for it. */
function holds(outer: Area, inner: Area): boolean {
  const inside =
    outer.x <= inner.x &&
    outer.y <= inner.y &&
    outer.x + outer.width >= inner.x + inner.width &&
    outer.y + outer.height >= inner.y + inner.height;
  return inside && outer.width < 6 * inner.width;
}

const boxes = new WeakMap<Route, Area>();

function boxOf(route: Route): Area {
  let box = boxes.get(route);
  if (box === undefined) {
    const points = route.lines.flat();
    const [x, y] = [Math.min(...points.map((point) => point.x)), Math.min(...points.map((point) => point.y))];
    const right = Math.max(...points.map((point) => point.x));
    box = { x, y, width: right - x, height: Math.max(...points.map((point) => point.y)) - y };
    boxes.set(route, box);
  }
  return box;
}

function touches(a: Area, b: Area): boolean {
  return a.x <= b.x + b.width && b.x <= a.x + a.width && a.y <= b.y + b.height && b.y <= a.y + a.height;
}

/** What is drawn of a net besides its course, as text, so that a net that did not change is not drawn anew. */
function factsOf(scene: Scene, route: Route): string {
  const from = scene.ports.get(route.net);
  const inputs = Object.keys(route.leaves);
  const card = (port: string) => scene.cards.get(scene.ports.get(port)?.card ?? '');
  const crossings = inputs.flatMap((input) => {
    const crossing = crossingOf(card(route.net), card(input), scene.sheet);
    return crossing === undefined ? [] : [[input, crossing] as const];
  });
  const facts = { logic: from?.logic ?? false, size: from?.size ?? 1, crossings: Object.fromEntries(crossings) };
  const sides = Object.fromEntries(inputs.map((input) => [input, scene.ports.get(input)?.side ?? 'left']));
  return JSON.stringify([facts, sides]);
}

const Net = memo(function Net({ route, facts }: { route: Route; facts: string }) {
  const marks = useMemo(() => {
    const [line, sides] = JSON.parse(facts);
    return lineMarks(route, line, sides);
  }, [route, facts]);
  return (
    <g className="net">
      <Marks marks={marks} />
      {Object.entries(route.leaves).map(([input, points]) => (
        <Leaf key={input} output={route.net} input={input} points={points} />
      ))}
    </g>
  );
});

/** One wire of a net: a wide unseen strip to pick it by, and the line again while the mark is on it. */
function Leaf({ output, input, points }: { output: string; input: string; points: readonly Point[] }) {
  const workbench = useWorkbench();
  const { session } = workbench;
  const marked = useSession(({ mark }) => mark?.on === 'line' && mark.at === input);
  const flash = useSession((state) => state.flash === input);
  const d = polyline(points);
  return (
    <g id={thingId({ on: 'line', at: input })} data-flash={flash || undefined}>
      {marked && <path className="line_chosen" d={d} />}
      <path
        className="line_strip nopan"
        d={d}
        data-line={input}
        onPointerEnter={() => session.setState({ hover: output })}
        onPointerLeave={() => session.setState({ hover: undefined })}
        onPointerDown={(event) => {
          if (event.button !== 0) return;
          event.stopPropagation();
          focusPaper();
          session.setState({ mark: { on: 'line', at: input }, selection: [] });
          pressLine(workbench, input, points, event.nativeEvent);
        }}
      />
    </g>
  );
}

/** Inputs that wait for a line, and outputs that feed nothing. */
function OpenEnds({ scene }: { scene: Scene }) {
  const marks = useMemo(() => {
    const feeding = new Set(scene.wires.values());
    return [...scene.ports.values()]
      .filter(({ name, direction }) => (direction === 'in' ? !scene.wires.has(name) : !feeding.has(name)))
      .map(openEnd);
  }, [scene]);
  return <Marks marks={marks} />;
}

/** Lines drawn as two torn ends, each with the other end's zone. */
function TornEnds({ scene }: { scene: Scene }) {
  const marks = useMemo(() => {
    if (scene.scope !== '' || scene.bounds === undefined) return [];
    const ports = new Map([...scene.ports.values()].map((port) => [`${port.direction} ${port.name}`, port]));
    return tapMarks(scene.sheet, ports, scene.bounds, undefined);
  }, [scene]);
  return <Marks marks={marks} />;
}
