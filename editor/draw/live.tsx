/** What lives on the drawing while a run is open: slips on lines, state sentences, dots on curves, signs in a gate's rows. Copper, and outside React. */
import { type RefObject, useEffect, useMemo, useRef } from 'react';
import type { Saying } from '../../compiler/language/syntax.ts';
import type { Card } from '../../compiler/picture/card_size.ts';
import type { Area } from '../../compiler/picture/marks.ts';
import { remarkMarks } from '../../compiler/picture/remarks.ts';
import type { Desk } from '../../compiler/sheet/sheet.ts';
import { ageOf, ageWords, Slip } from '../parts/reading.tsx';
import { sentenceOf, type Value } from '../work/readings.ts';
import { useBench, useSession, useSheet, useWorkbench } from '../workbench.ts';
import { areaOfCard, type Placed, type PortPlace, type Scene } from './scene.ts';
import { textOf } from './shelf_items.ts';
import { slipPlaces } from './slip_places.ts';

/** Values on lines: those pinned, and the one under the pointer or the mark. */
export function Slips({ scene, frame }: { scene: Scene; frame: RefObject<HTMLElement | null> }) {
  const { facts } = useBench();
  const { desk } = useSheet();
  const hover = useSession((session) => session.hover);
  const mark = useSession((session) => session.mark);
  const viewport = useSession((session) => session.viewport);
  const marked = mark?.on === 'output' ? mark.at : mark?.on === 'line' ? scene.wires.get(mark.at) : undefined;
  const isShown = (name: string) =>
    desk.pins[scene.path + name] !== undefined || name === hover || (marked !== undefined && name === marked);
  const shown = [...scene.ports.values()].filter((port) => port.direction === 'out' && isShown(port.name));
  const key = shown.map((port) => port.name).join(' ');
  // biome-ignore lint/correctness/useExhaustiveDependencies: which are shown is in the key
  const places = useMemo(() => {
    const { x, y, zoom } = viewport;
    const { clientWidth = 0, clientHeight = 0 } = frame.current ?? {};
    const view = { x: -x / zoom, y: -y / zoom, width: clientWidth / zoom, height: clientHeight / zoom };
    const cards = [...scene.cards.values()].map(areaOfCard);
    return slipPlaces(
      shown.map((port) => ({ ...port, card: cardOf(scene, port) })),
      [...cards, ...noteAreas(desk, scene.scope)],
      Math.max(1, LEAST_SCALE / zoom),
      clientWidth === 0 ? undefined : view,
    );
  }, [scene, key, desk, viewport]);
  if (facts === undefined) return null;
  return shown.flatMap((port) => {
    const pin = desk.pins[scene.path + port.name];
    const place = places.get(port.name);
    if (place === undefined) return [];
    const [left, top] = pin?.at === undefined ? [place.x, place.y] : [port.x + pin.at[0], port.y + pin.at[1]];
    return (
      <span
        key={port.name}
        className="on_line"
        data-from={place.from}
        data-narrow={place.narrow || undefined}
        data-pinned={pin !== undefined || undefined}
        style={{ left, top }}
      >
        <Slip name={scene.path + port.name} />
      </span>
    );
  });
}

/** The least scale at which slips are drawn on the screen; as `cards.css` has it. */
const LEAST_SCALE = 0.85;

function cardOf(scene: Scene, port: PortPlace): Area {
  const placed = scene.cards.get(port.card);
  return placed === undefined ? { x: port.x, y: port.y, width: 0, height: 0 } : areaOfCard(placed);
}

/** Where notes stand; frames may have slips inside. */
function noteAreas(desk: Desk, scope: string): readonly Area[] {
  return remarkMarks({ ...desk, frames: {} }, scope === '' ? undefined : scope).areas;
}

/** All that lives on a card; nothing before a run is open. */
export function LiveCard({ placed, path }: { placed: Placed; path: string }) {
  const { facts } = useBench();
  const sheet = useSheet();
  if (facts === undefined) return null;
  const sayings = textOf(sheet, placed.block.is)?.sayings ?? [];
  const { card } = placed;
  const oldest = card.ports.find(({ direction }) => direction === 'out');
  return (
    <>
      {sayings.length > 0 && <StateSentence path={path} card={card} sayings={sayings} />}
      {oldest !== undefined && <Age name={`${path}.${oldest.name}`} card={card} />}
      {card.plot !== undefined && <CurveDot path={path} card={card} />}
      {card.rows.map((row) => (
        <RowSign key={row.port} name={`${path}.${row.port}`} row={row} />
      ))}
    </>
  );
}

/** How long ago a block ran, while the run is held: of one that did not run on the tick looked at, the law is pale. */
function Age({ name, card: { width, state } }: { name: string; card: Card }) {
  const { bench } = useWorkbench();
  const place = useRef<HTMLSpanElement>(null);
  useEffect(() => {
    let latest: Value | undefined;
    const write = () => {
      const old = latest === undefined || bench.state().doing === 'playing' ? 0 : ageOf(latest);
      const element = place.current;
      if (element === null) return;
      element.textContent = ageWords(old);
      element.closest('.card')?.toggleAttribute('data-old', old > 0);
    };
    const quiet = bench.subscribe(write);
    const stop = bench.readings.register(name, (value) => {
      latest = value;
      write();
    });
    return () => {
      quiet();
      stop();
    };
  }, [bench, name]);
  return <span className="age_words" ref={place} style={{ right: 0, top: state.y, maxWidth: width }} />;
}

/** The first saying that holds now: `at its limit`. */
function StateSentence({ path, card, sayings }: { path: string; card: Card; sayings: readonly Saying[] }) {
  const { readings } = useWorkbench().bench;
  const { show } = useSheet().desk;
  const place = useRef<HTMLSpanElement>(null);
  useEffect(() => {
    const values = new Map<string, Value>();
    const write = () => {
      const index = sayings.findIndex((_, i) => values.get(`say${i + 1}`)?.numbers?.[0] === 1);
      const saying = sayings[index];
      if (place.current === null) return;
      place.current.textContent =
        saying === undefined
          ? ''
          : saying.words.replaceAll(/\{(\w+)\}/g, (_, name: string) => {
              const value = values.get(name);
              return value === undefined ? name : sentenceOf(value, show[`${path}.${name}`]);
            }) + leftWords(values.get(`left${index + 1}`));
    };
    const names = sayings.flatMap(({ words, left }, i) => [
      `say${i + 1}`,
      ...(left === undefined ? [] : [`left${i + 1}`]),
      ...[...words.matchAll(/\{(\w+)\}/g)].flatMap((match) => match[1] ?? []),
    ]);
    const stops = [...new Set(names)].map((name) =>
      readings.register(`${path}.${name}`, (value) => {
        values.set(name, value);
        write();
      }),
    );
    return () => {
      for (const stop of stops) stop();
    };
  }, [readings, path, sayings, show]);
  const { x, y, width } = card.state;
  return <span className="state_words" ref={place} style={{ left: x, top: y, minWidth: width }} />;
}

function leftWords(value: Value | undefined): string {
  const seconds = value?.numbers?.[0];
  return seconds === undefined || !Number.isFinite(seconds) || seconds <= 0 ? '' : `, ${seconds.toFixed(2)} s left`;
}

/** Where on its curve a block is now. */
function CurveDot({ path, card: { plot, ports, width, height } }: { path: string; card: Card }) {
  const { readings } = useWorkbench().bench;
  const dot = useRef<SVGCircleElement>(null);
  const input = ports.find((port) => port.direction === 'in')?.name;
  const output = ports.find((port) => port.direction === 'out')?.name;
  useEffect(() => {
    if (plot === undefined || input === undefined || output === undefined) return;
    const at = { x: Number.NaN, y: Number.NaN };
    const place = (axis: 'x' | 'y') => (value: Value) => {
      at[axis] = value.numbers?.[0] ?? Number.NaN;
      const { area } = plot;
      const share = (number: number, [low, high]: readonly [number, number]) =>
        Math.min(1, Math.max(0, (number - low) / (high - low)));
      const [across, up] = [share(at.x, plot.x), share(at.y, plot.y)];
      dot.current?.setAttribute('visibility', Number.isFinite(across + up) ? 'visible' : 'hidden');
      if (!Number.isFinite(across + up)) return;
      dot.current?.setAttribute('cx', String(area.x + across * area.width));
      dot.current?.setAttribute('cy', String(area.y + (1 - up) * area.height));
    };
    const stops = [
      readings.register(`${path}.${input}`, place('x'), true),
      readings.register(`${path}.${output}`, place('y'), true),
    ];
    return () => {
      for (const stop of stops) stop();
    };
  }, [readings, path, plot, input, output]);
  return (
    <svg className="chosen" width={width} height={height} aria-hidden="true">
      <circle className="live_dot" ref={dot} r={4} visibility="hidden" />
    </svg>
  );
}

/** How one reason or trip of a gate stands: ✓ a reason that holds, ✕ what holds the gate back; a trip that is clear stays an empty diamond. */
function RowSign({ name, row }: { name: string; row: Card['rows'][number] }) {
  const { readings } = useWorkbench().bench;
  const sign = useRef<HTMLSpanElement>(null);
  useEffect(
    () =>
      readings.register(name, ({ numbers }) => {
        if (sign.current === null) return;
        const truth = numbers?.[0];
        const good = truth === undefined ? undefined : (truth === 1) === (row.role === 'reason');
        sign.current.textContent = good === undefined ? '' : !good ? '✕' : row.role === 'reason' ? '✓' : '';
        sign.current.dataset.good = String(good);
      }),
    [readings, name, row],
  );
  const { x, y, width, height } = row.box;
  return <span className="row_sign" ref={sign} style={{ left: x, top: y, width, height }} />;
}
