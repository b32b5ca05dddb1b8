/** The paper of Draw: ground, lines, cards, focus mark, zones along its edges, title block; the keyboard's place on it. */
import { useEffect, useMemo, useRef, useState } from 'react';
import { createStore, type StoreApi } from 'zustand/vanilla';
import type { Point } from '../../compiler/sheet/sheet.ts';
import { runCommand } from '../commands.ts';
import { thingId, type Viewport } from '../session.ts';
import { useSession, useWorkbench } from '../workbench.ts';
import { Canvas } from './canvas/canvas.tsx';
import { Far } from './far.tsx';
import { spoken } from './going.ts';
import { Ground } from './ground.tsx';
import { GroupFlags } from './group_flags.tsx';
import { FittingPorts, PendingLine, PortMark } from './hanging.tsx';
import { Leaders } from './leaders.tsx';
import { Lines } from './lines.tsx';
import { Slips } from './live.tsx';
import { moveCards, putDown } from './moving_commands.ts';
import { NearContext } from './near.ts';
import { cardsIn } from './picking.ts';
import { RemarkMarks, Remarks } from './remarks.tsx';
import type { Scene } from './scene.ts';
import { TitleBlock } from './title_block.tsx';
import { useScene } from './use_scene.ts';
import { wiringKey } from './wiring.ts';
import { Zones } from './zones.tsx';

type Distance = 'near' | 'middle' | 'far';

/** From so many cards in view on they are drawn as from afar. */
const MANY = 300;

export function Paper() {
  const workbench = useWorkbench();
  const { session } = workbench;
  const scene = useScene();
  const mark = useSession((state) => state.mark);
  const mode = useSession((state) => state.mode);
  const application = useRef<HTMLDivElement>(null);
  const live = useMemo(() => createStore<Viewport>(() => session.getState().viewport), [session]);
  const distance = useDistance(live, scene, application);

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
    <div
      className="drawing"
      ref={application}
      role="application"
      aria-label={`Paper, ${scene.cards.size} ${scene.cards.size === 1 ? 'block' : 'blocks'}${mark === undefined ? '' : `, at ${spoken(scene, mark)}`}`}
      aria-activedescendant={active}
      // biome-ignore lint/a11y/noNoninteractiveTabindex: the drawing is one tab stop with arrows inside
      tabIndex={0}
      data-mode={mode.is}
      data-distance={distance}
      onKeyDown={onKeyDown}
      onPointerDown={(event) => {
        if (!(event.target instanceof Element) || event.target.closest('input, textarea, button, .edited') === null)
          application.current?.focus({ preventScroll: true });
      }}
    >
      <NearContext value={distance === 'near'}>
        <Canvas
          scene={scene}
          onMove={onMove}
          onSelect={onSelect}
          onPaper={onPaper}
          onLook={(x, y, zoom) => live.setState({ x, y, zoom })}
          isFar={distance === 'far'}
          under={
            distance === 'far' ? null : (
              <>
                <Ground outline={scene.ground} />
                <RemarkMarks />
                <Lines scene={scene} live={live} frame={application} />
              </>
            )
          }
          over={
            <>
              <Remarks />
              <GroupFlags scene={scene} />
              <Slips scene={scene} frame={application} />
              <PortMark scene={scene} />
              <PendingLine scene={scene} />
              <FittingPorts scene={scene} />
            </>
          }
        />
      </NearContext>
      {distance === 'far' && <Far live={live} scene={scene} />}
      <Zones live={live} bounds={scene.bounds} />
      {scene.cards.size === 0 && scene.scope === '' && <FirstWords />}
      <TitleBlock />
      <Leaders live={live} scene={scene} />
    </div>
  );
}

/** How far away the cards are, with a little hysteresis; very many in view count as far too. */
function useDistance(live: StoreApi<Viewport>, scene: Scene, place: React.RefObject<HTMLDivElement | null>): Distance {
  const [distance, setDistance] = useState<Distance>('near');
  useEffect(() => {
    const put = ({ x, y, zoom }: Viewport) => {
      const drawing = place.current;
      if (drawing === null) return;
      drawing.style.setProperty('--zoom', String(zoom));
      const { clientWidth, clientHeight } = drawing;
      const isMany = () =>
        scene.cards.size > MANY &&
        cardsIn(scene, { x: -x / zoom, y: -y / zoom, width: clientWidth / zoom, height: clientHeight / zoom }).length >
          MANY;
      setDistance((before) => {
        if (zoom < (before === 'far' ? 0.43 : 0.4) || isMany()) return 'far';
        return zoom < (before === 'near' ? 0.67 : 0.7) ? 'middle' : 'near';
      });
    };
    put(live.getState());
    return live.subscribe(put);
  }, [live, scene, place]);
  return distance;
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
