/** The paper of Draw: ground, lines, cards, focus mark, zones along its edges, title block; the keyboard's place on it. */
import { useEffect, useMemo, useRef } from 'react';
import { createStore, type StoreApi } from 'zustand/vanilla';
import type { Point } from '../../compiler/sheet/sheet.ts';
import { runCommand } from '../commands.ts';
import { thingId, type Viewport } from '../session.ts';
import { useSession, useWorkbench } from '../workbench.ts';
import { Canvas } from './canvas/canvas.tsx';
import { spoken } from './going.ts';
import { Ground } from './ground.tsx';
import { GroupFlags } from './group_flags.tsx';
import { FittingPorts, PendingLine, PortMark } from './hanging.tsx';
import { Leaders } from './leaders.tsx';
import { Lines } from './lines.tsx';
import { Slips } from './live.tsx';
import { moveCards, putDown } from './moving_commands.ts';
import { RemarkMarks, Remarks } from './remarks.tsx';
import { TitleBlock } from './title_block.tsx';
import { useScene } from './use_scene.ts';
import { wiringKey } from './wiring.ts';
import { Zones } from './zones.tsx';

export function Paper() {
  const workbench = useWorkbench();
  const { session } = workbench;
  const scene = useScene();
  const mark = useSession((state) => state.mark);
  const mode = useSession((state) => state.mode);
  const application = useRef<HTMLDivElement>(null);
  const live = useMemo(() => createStore<Viewport>(() => session.getState().viewport), [session]);
  useDistance(live, application);

  const onMove = (to: Readonly<Record<string, Point>>, ended: boolean) => {
    if (!ended) return session.setState(({ astray }) => ({ astray: { ...astray, ...to } }));
    const { astray, scope } = session.getState();
    session.setState({ astray: {} });
    if (Object.keys(astray).length > 0) moveCards(workbench, { ...astray, ...to }, scope);
  };
  const onSelect = (names: readonly string[]) => {
    const last = names.at(-1);
    session.setState({
      selection: names,
      ...(names.length === 1 && last !== undefined ? { mark: { on: 'block', at: last } } : {}),
    });
  };
  const onPaper = ([x, y]: Point, double: boolean) => {
    application.current?.focus({ preventScroll: true });
    if (double) session.setState({ find: { text: '', at: [Math.round(x / 20) * 20, Math.round(y / 20) * 20] } });
    else session.setState({ mark: undefined, selection: [], mode: { is: 'idle' } });
  };
  const onKeyDown = (event: React.KeyboardEvent) => {
    if (event.target !== application.current || event.ctrlKey || event.metaKey || event.altKey) return;
    if (mode.is === 'wiring' && wiringKey(workbench, event.key)) event.preventDefault();
    if (mode.is === 'carrying' && (event.key === 'Enter' || event.key === 'Escape')) {
      putDown(workbench, event.key === 'Enter');
      event.preventDefault();
    }
  };
  const active = mark === undefined ? undefined : thingId(mark);
  return (
    // biome-ignore lint/a11y/useAriaPropsSupportedByRole: an application may own its active descendant
    <div
      className="drawing"
      ref={application}
      role="application"
      aria-label={`Paper, ${scene.cards.size} ${scene.cards.size === 1 ? 'block' : 'blocks'}${mark === undefined ? '' : `, at ${spoken(scene, mark)}`}`}
      aria-activedescendant={active}
      // biome-ignore lint/a11y/noNoninteractiveTabindex: the drawing is one tab stop with arrows inside
      tabIndex={0}
      data-mode={mode.is}
      onKeyDown={onKeyDown}
      onPointerDown={(event) => {
        if (!(event.target instanceof Element) || event.target.closest('input, textarea, button, .edited') === null)
          application.current?.focus({ preventScroll: true });
      }}
    >
      <Canvas
        scene={scene}
        onMove={onMove}
        onSelect={onSelect}
        onPaper={onPaper}
        onLook={(x, y, zoom) => live.setState({ x, y, zoom })}
        under={
          <>
            <Ground outline={scene.ground} />
            <RemarkMarks />
            <Lines scene={scene} />
          </>
        }
        over={
          <>
            <Remarks />
            <GroupFlags scene={scene} />
            <Slips scene={scene} />
            <PortMark scene={scene} />
            <PendingLine scene={scene} />
            <FittingPorts scene={scene} />
          </>
        }
      />
      <Zones live={live} bounds={scene.bounds} />
      {scene.cards.size === 0 && scene.scope === '' && <FirstWords />}
      <TitleBlock />
      <Leaders live={live} scene={scene} />
    </div>
  );
}

/** How far away the cards are, as a class on the drawing, with a little hysteresis. */
function useDistance(live: StoreApi<Viewport>, place: React.RefObject<HTMLDivElement | null>): void {
  useEffect(() => {
    const put = ({ zoom }: Viewport) => {
      const drawing = place.current;
      if (drawing === null) return;
      const near = drawing.dataset.distance === 'near' ? zoom >= 0.67 : zoom >= 0.7;
      const distance = near ? 'near' : 'middle';
      if (drawing.dataset.distance !== distance) drawing.dataset.distance = distance;
      drawing.style.setProperty('--zoom', String(zoom));
    };
    put(live.getState());
    return live.subscribe(put);
  }, [live, place]);
}

/** What an empty paper says. */
function FirstWords() {
  const workbench = useWorkbench();
  return (
    <div className="first_words">
      <p>An empty sheet. Put down a first block:</p>
      <p>
        <button type="button" className="written" onClick={() => runCommand(workbench, 'find.open')}>
          <kbd>/</kbd> and its name
        </button>{' '}
        or choose a purpose above, Drive to Plant.
      </p>
    </div>
  );
}
