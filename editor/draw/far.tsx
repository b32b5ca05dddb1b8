/** The whole paper from afar, on one canvas: silhouettes, names where they can be read, lines, and pins for findings. */
import { useEffect, useRef } from 'react';
import type { StoreApi } from 'zustand/vanilla';
import type { Point } from '../../compiler/sheet/sheet.ts';
import type { Viewport } from '../session.ts';
import { useChecked, useSession, useSheet, useWorkbench, type Workbench } from '../workbench.ts';
import { paperPoint } from './connect.ts';
import { markOf, shownFindings } from './findings_walk.ts';
import { moveCards } from './moving_commands.ts';
import { cardAt, cardsIn } from './picking.ts';
import { GRID, type Placed, type Scene } from './scene.ts';

/** Names are written from this size on, px on screen. */
const LEAST_NAME = 9;

const outlines = new WeakMap<Placed['card'], Path2D>();

function outlineOf({ card }: Placed): Path2D {
  let path = outlines.get(card);
  if (path === undefined) {
    path = new Path2D(card.outline);
    outlines.set(card, path);
  }
  return path;
}

export function Far({ live, scene }: { live: StoreApi<Viewport>; scene: Scene }) {
  const workbench = useWorkbench();
  const canvas = useRef<HTMLCanvasElement>(null);
  const selection = useSession((session) => session.selection);
  const theme = useSession((session) => session.theme);
  const { findings } = useChecked();
  const sheet = useSheet();
  // biome-ignore lint/correctness/useExhaustiveDependencies: the theme changes the colours that are read
  useEffect(() => {
    const pins = new Map<string, string>();
    for (const finding of shownFindings(findings, sheet).toReversed()) {
      const at = markOf(sheet, scene.scope, finding)?.at;
      if (at !== undefined) pins.set(at, finding.level);
    }
    let asked = 0;
    const draw = () => {
      asked = 0;
      if (canvas.current !== null) paint(canvas.current, scene, live.getState(), new Set(selection), pins);
    };
    const ask = () => {
      asked ||= requestAnimationFrame(draw);
    };
    ask();
    const unwatch = live.subscribe(ask);
    addEventListener('resize', ask);
    return () => {
      cancelAnimationFrame(asked);
      unwatch();
      removeEventListener('resize', ask);
    };
  }, [live, scene, selection, findings, sheet, theme]);
  useEffect(() => {
    const drawing = canvas.current?.parentElement;
    const onPress = (press: PointerEvent) => pressCard(workbench, press);
    drawing?.addEventListener('pointerdown', onPress, true);
    return () => drawing?.removeEventListener('pointerdown', onPress, true);
  }, [workbench]);
  return <canvas className="far" ref={canvas} />;
}

/** Marks and drags a card that the pointer is pressed on; leaves the paper itself to the canvas library. */
function pressCard(workbench: Workbench, press: PointerEvent): void {
  const { session, document } = workbench;
  if (press.button !== 0 || !(press.target instanceof Element) || press.target.closest('.canvas') === null) return;
  const [x, y] = paperPoint(workbench, press.clientX, press.clientY);
  const placed = cardAt(workbench.scene(), x, y);
  if (placed === undefined) return;
  press.stopPropagation();
  const { selection } = session.getState();
  const names = selection.includes(placed.name) ? selection : [placed.name];
  session.setState({ mark: { on: 'block', at: placed.name }, selection: names });
  const starts = names.flatMap((name) => workbench.scene().cards.get(name) ?? []);
  const onMove = (event: PointerEvent) => {
    if (document.locked() !== undefined) return;
    const [toX, toY] = paperPoint(workbench, event.clientX, event.clientY);
    const step = (by: number) => Math.round(by / GRID) * GRID;
    const moved = starts.map((one) => [one.name, [one.x + step(toX - x), one.y + step(toY - y)] as Point] as const);
    session.setState({ astray: Object.fromEntries(moved) });
  };
  const onUp = () => {
    removeEventListener('pointermove', onMove);
    removeEventListener('pointerup', onUp);
    const { astray, scope } = session.getState();
    session.setState({ astray: {} });
    moveCards(workbench, astray, scope);
  };
  addEventListener('pointermove', onMove);
  addEventListener('pointerup', onUp);
}

function paint(
  canvas: HTMLCanvasElement,
  scene: Scene,
  { x, y, zoom }: Viewport,
  selected: ReadonlySet<string>,
  pins: ReadonlyMap<string, string>,
): void {
  const sharp = window.devicePixelRatio;
  const { clientWidth, clientHeight } = canvas;
  canvas.width = clientWidth * sharp;
  canvas.height = clientHeight * sharp;
  const pen = canvas.getContext('2d');
  if (pen === null) return;
  const style = getComputedStyle(canvas);
  const colour = (name: string) => style.getPropertyValue(`--${name}`).trim();
  const [ink, card, ground] = [colour('ink'), colour('card'), colour('ground')];
  pen.setTransform(sharp * zoom, 0, 0, sharp * zoom, sharp * x, sharp * y);
  pen.fillStyle = ground;
  if (scene.ground.d !== '') pen.fill(new Path2D(scene.ground.d), 'evenodd');
  pen.strokeStyle = ink;
  pen.lineWidth = Math.max(1, 0.8 / zoom);
  pen.beginPath();
  for (const route of Object.values(scene.routes))
    for (const line of route.lines)
      for (const [index, point] of line.entries()) pen[index === 0 ? 'moveTo' : 'lineTo'](point.x, point.y);
  pen.stroke();
  const inView = cardsIn(scene, { x: -x / zoom, y: -y / zoom, width: clientWidth / zoom, height: clientHeight / zoom });
  for (const placed of inView) {
    pen.setTransform(sharp * zoom, 0, 0, sharp * zoom, sharp * (x + placed.x * zoom), sharp * (y + placed.y * zoom));
    pen.fillStyle = card;
    pen.lineWidth = (selected.has(placed.name) ? 3 : 1) / zoom;
    pen.fill(outlineOf(placed));
    pen.stroke(outlineOf(placed));
  }
  pen.setTransform(sharp, 0, 0, sharp, 0, 0);
  pen.fillStyle = ink;
  pen.textAlign = 'center';
  pen.textBaseline = 'middle';
  for (const placed of inView) {
    const size = Math.min(13, (placed.card.width * zoom * 1.6) / Math.max(4, placed.name.length));
    if (size < LEAST_NAME) continue;
    pen.font = `bold ${size}px ${style.fontFamily}`;
    pen.fillText(
      placed.name,
      x + (placed.x + placed.card.width / 2) * zoom,
      y + (placed.y + placed.card.height / 2) * zoom,
    );
  }
  pen.font = '14px sans-serif';
  for (const [name, level] of pins) {
    const placed = scene.cards.get(name);
    if (placed === undefined) continue;
    pen.fillStyle = level === 'error' ? colour('fault') : level === 'warning' ? colour('warning') : colour('muted');
    const sign = level === 'error' ? '▲' : level === 'warning' ? '△' : '○';
    pen.fillText(sign, x + (placed.x + placed.card.width) * zoom + 6, y + placed.y * zoom);
  }
}
