/** The only user of the canvas library: viewport, mounting of cards in view, dragging of cards. No edges, no keys of its own. */
import { type ReactNode, useCallback, useEffect, useMemo, useRef } from 'react';
import { type NodeChange, type NodeTypes, ReactFlow, ReactFlowProvider, useReactFlow, ViewportPortal } from 'reactflow';
import 'reactflow/dist/base.css';
import type { Area } from '../../../compiler/picture/marks.ts';
import type { Point } from '../../../compiler/sheet/sheet.ts';
import { useSession, useWorkbench } from '../../workbench.ts';
import { CardOnPaper } from '../card.tsx';
import { GRID, type Scene } from '../scene.ts';
import { type CardNode, createNodes } from './nodes.ts';

const nodeTypes: NodeTypes = { card: CardOnPaper };

export interface CanvasProperties {
  readonly scene: Scene;
  /** Where dragged cards are for now, and that the drag has ended. */
  readonly onMove: (to: Readonly<Record<string, Point>>, ended: boolean) => void;
  readonly onSelect: (names: readonly string[]) => void;
  readonly onPaper: (at: Point, double: boolean) => void;
  /** The viewport moved: origin in screen pixels, and scale. */
  readonly onLook: (x: number, y: number, zoom: number) => void;
  /** No card is mounted: the whole paper is drawn on a canvas. */
  readonly isFar: boolean;
  /** Drawn under the cards, in paper coordinates. */
  readonly under: ReactNode;
  /** Drawn over the cards, in paper coordinates. */
  readonly over: ReactNode;
}

export function Canvas(properties: CanvasProperties) {
  return (
    <ReactFlowProvider>
      <Inner {...properties} />
    </ReactFlowProvider>
  );
}

function Inner({ scene, onMove, onSelect, onPaper, onLook, isFar, under, over }: CanvasProperties) {
  const { document, session } = useWorkbench();
  const selection = useSession((state) => state.selection);
  const look = useSession((state) => state.look);
  const derive = useMemo(() => createNodes(document.idOf), [document]);
  const nodes = derive(scene, selection);
  const flow = useReactFlow();
  const frame = useRef<HTMLDivElement>(null);
  const coarse = useMemo(() => matchMedia('(pointer: coarse)').matches, []);
  const { x, y, zoom } = session.getState().viewport;

  // The drawing itself is the application; the library claims that role for its wrapper.
  useEffect(() => frame.current?.querySelector('.react-flow')?.setAttribute('role', 'presentation'), []);

  // biome-ignore lint/correctness/useExhaustiveDependencies: looks once each time it is asked to
  useEffect(() => {
    const rect = frame.current?.getBoundingClientRect();
    if (look === undefined || rect === undefined) return;
    const to = viewFor(look.at === 'all' ? scene.bounds : look.at, look.at === 'all', flow.getViewport(), rect);
    if (to === undefined) return;
    void flow.setViewport(to);
    settle(to);
  }, [look]);

  const settle = useCallback(
    (viewport: { x: number; y: number; zoom: number }) => {
      const zoom = Math.round(viewport.zoom * 50) / 50;
      const settled = { x: Math.round(viewport.x), y: Math.round(viewport.y), zoom };
      session.setState({ viewport: settled });
      if (settled.x !== viewport.x || settled.y !== viewport.y)
        void flow.setViewport({ ...viewport, x: settled.x, y: settled.y });
    },
    [flow, session],
  );

  const onNodesChange = (changes: NodeChange<CardNode>[]) => {
    const named = new Map(nodes.map((node) => [node.id, node.data.placed.name]));
    const moved: Record<string, Point> = {};
    let dragging = false;
    const chosen = new Set(selection);
    let rechosen = false;
    for (const change of changes) {
      const name = 'id' in change ? named.get(change.id) : undefined;
      if (name === undefined) continue;
      if (change.type === 'position' && change.position !== undefined) {
        moved[name] = [change.position.x, change.position.y];
        dragging ||= change.dragging === true;
      } else if (change.type === 'select') {
        rechosen = true;
        if (change.selected) chosen.add(name);
        else chosen.delete(name);
      }
    }
    if (Object.keys(moved).length > 0) onMove(moved, !dragging);
    if (rechosen) onSelect([...chosen]);
  };

  return (
    // biome-ignore lint/a11y/noStaticElementInteractions: the same by keys is the find command
    <div
      className="canvas"
      ref={frame}
      onDoubleClick={(event) => {
        if (!(event.target instanceof Element) || !event.target.matches('.react-flow__pane')) return;
        const at = flow.screenToFlowPosition({ x: event.clientX, y: event.clientY });
        onPaper([at.x, at.y], true);
      }}
    >
      <ReactFlow
        nodes={isFar ? NO_NODES : nodes}
        edges={NO_EDGES}
        nodeTypes={nodeTypes}
        onNodesChange={onNodesChange}
        defaultViewport={{ x, y, zoom }}
        onlyRenderVisibleElements
        snapToGrid
        snapGrid={[GRID, GRID]}
        minZoom={0.1}
        maxZoom={3}
        panOnScroll
        zoomOnDoubleClick={false}
        selectionOnDrag={!coarse}
        panOnDrag={coarse ? true : [1, 2]}
        nodesConnectable={false}
        nodesFocusable={false}
        edgesFocusable={false}
        elevateNodesOnSelect={false}
        nodeDragThreshold={3}
        deleteKeyCode={null}
        selectionKeyCode={null}
        multiSelectionKeyCode="Shift"
        panActivationKeyCode={null}
        zoomActivationKeyCode={null}
        disableKeyboardA11y
        proOptions={NO_BADGE}
        onMove={(_event, to) => onLook(to.x, to.y, to.zoom)}
        onMoveEnd={(_event, to) => settle(to)}
        onPaneClick={(event) => {
          const at = flow.screenToFlowPosition({ x: event.clientX, y: event.clientY });
          onPaper([at.x, at.y], false);
        }}
      >
        <ViewportPortal>
          <div className="under">{under}</div>
        </ViewportPortal>
        <ViewportPortal>
          <div className="over">{over}</div>
        </ViewportPortal>
      </ReactFlow>
    </div>
  );
}

const NO_NODES: CardNode[] = [];
const NO_EDGES: [] = [];

/** The library is named with its licence where the project says what it is made from. */
const NO_BADGE = { hideAttribution: true };

/** How far from the frame's edge a thing is kept, px. */
const EDGE = 60;

/** The viewport that shows an area: moved as little as may be, or fitted when everything is to be seen. */
function viewFor(
  area: Area | undefined,
  all: boolean,
  now: { x: number; y: number; zoom: number },
  frame: { width: number; height: number },
): { x: number; y: number; zoom: number } | undefined {
  if (area === undefined) return undefined;
  if (all) {
    const fit = Math.min((frame.width - 2 * EDGE) / area.width, (frame.height - 2 * EDGE) / area.height);
    const zoom = Math.floor(Math.max(0.1, Math.min(1, fit)) * 50) / 50;
    return {
      x: Math.round((frame.width - area.width * zoom) / 2 - area.x * zoom),
      y: Math.round((frame.height - area.height * zoom) / 2 - area.y * zoom),
      zoom,
    };
  }
  const shift = (from: number, length: number, room: number): number => {
    if (from < EDGE) return EDGE - from;
    if (from + length > room - EDGE) return Math.max(room - EDGE - from - length, EDGE - from);
    return 0;
  };
  const dx = shift(area.x * now.zoom + now.x, area.width * now.zoom, frame.width);
  const dy = shift(area.y * now.zoom + now.y, area.height * now.zoom, frame.height);
  return dx === 0 && dy === 0 ? undefined : { x: now.x + dx, y: now.y + dy, zoom: now.zoom };
}
