/** The sheet as a tree in signal order: block, its ports, what each takes or feeds; arrows walk it, Enter goes there. */
import { useEffect, useRef, useState } from 'react';
import { runCommand } from '../commands.ts';
import { endOf } from '../document/edits.ts';
import { focusPaper } from '../focus.ts';
import type { Mark } from '../session.ts';
import { useChecked, useSheet, useWorkbench } from '../workbench.ts';
import { markOf, shownFindings } from './findings_walk.ts';
import { goTo, readersOf } from './going.ts';
import type { Scene } from './scene.ts';
import { useScene } from './use_scene.ts';

interface Row {
  readonly key: string;
  readonly level: 1 | 2;
  readonly text: string;
  readonly mark: Mark;
  readonly open: boolean | undefined;
}

export function Outline() {
  const workbench = useWorkbench();
  const scene = useScene();
  const sheet = useSheet();
  const { findings } = useChecked();
  const [opened, setOpened] = useState<ReadonlySet<string>>(new Set());
  const [here, setHere] = useState(0);
  const tree = useRef<HTMLDivElement>(null);
  const found = (name: string) =>
    shownFindings(findings, sheet).filter((finding) => markOf(sheet, scene.scope, finding)?.at === name).length;
  const rows = rowsOf(scene, opened, found);
  const current = Math.min(here, rows.length - 1);
  useEffect(() => tree.current?.focus(), []);
  const turn = (name: string, open: boolean) => {
    const next = new Set(opened);
    if (open) next.add(name);
    else next.delete(name);
    setOpened(next);
  };
  const step = (to: number) => {
    const next = Math.max(0, Math.min(rows.length - 1, to));
    setHere(next);
    const row = rows[next];
    if (row !== undefined) goTo(workbench, row.mark);
  };
  const onKeyDown = (event: React.KeyboardEvent) => {
    const row = rows[current];
    if (event.key === 'ArrowDown') step(current + 1);
    else if (event.key === 'ArrowUp') step(current - 1);
    else if (event.key === 'Home') step(0);
    else if (event.key === 'End') step(rows.length - 1);
    else if (event.key === 'ArrowRight' && row?.open === false) turn(row.mark.at, true);
    else if (event.key === 'ArrowLeft' && row?.open === true) turn(row.mark.at, false);
    else if (event.key === 'ArrowLeft' && row?.level === 2)
      step(rows.findLastIndex((one, index) => index < current && one.level === 1));
    else if (event.key === 'Enter') focusPaper();
    else if (event.key === 'Delete') runCommand(workbench, 'edit.delete');
    else if (event.key === 'F2') runCommand(workbench, 'block.rename');
    else if (event.key === 'w') runCommand(workbench, 'line.start');
    else if (event.key === 'o' || event.key === 'Escape') {
      runCommand(workbench, 'outline.turn');
      focusPaper();
    } else return;
    event.preventDefault();
    event.stopPropagation();
  };
  return (
    <div
      className="outline"
      ref={tree}
      role="tree"
      aria-label="Outline of the sheet"
      tabIndex={0}
      aria-activedescendant={rows[current] === undefined ? undefined : `row_${rows[current].key}`}
      onKeyDown={onKeyDown}
    >
      {rows.map((row, index) => (
        <div
          key={row.key}
          id={`row_${row.key}`}
          role="treeitem"
          tabIndex={-1}
          aria-level={row.level}
          aria-expanded={row.open}
          aria-selected={index === current}
          data-level={row.level}
          onKeyDown={onKeyDown}
          onClick={() => {
            step(index);
            if (row.open !== undefined) turn(row.mark.at, !row.open);
          }}
        >
          {row.text}
        </div>
      ))}
      {rows.length === 0 && <p className="quiet">Nothing is on the paper yet.</p>}
    </div>
  );
}

function rowsOf(scene: Scene, opened: ReadonlySet<string>, found: (name: string) => number): Row[] {
  return signalOrder(scene).flatMap((name): Row[] => {
    const placed = scene.cards.get(name);
    if (placed === undefined) return [];
    const count = found(name);
    const open = opened.has(name);
    const head: Row = {
      key: name,
      level: 1,
      text: `${name}, ${placed.description.kind}${count === 0 ? '' : count === 1 ? ', one finding' : `, ${count} findings`}`,
      mark: { on: 'block', at: name },
      open,
    };
    if (!open) return [head];
    const ports = placed.card.ports.map((port): Row => {
      const at = `${name}.${port.name}`;
      const into = port.direction === 'in';
      const source = scene.wires.get(at);
      const words = into
        ? `${port.name} takes ${source ?? 'nothing yet'}`
        : `${port.name} feeds ${readersOf(scene, at).join(' and ') || 'nothing yet'}`;
      return {
        key: `${into ? 'in' : 'out'}_${at}`,
        level: 2,
        text: words,
        mark: { on: into ? 'input' : 'output', at },
        open: undefined,
      };
    });
    return [head, ...ports];
  });
}

/** Blocks from sources on: each after what feeds it; in a loop the leftmost that is left comes first. */
export function signalOrder(scene: Scene): string[] {
  const byPlace = [...scene.cards.values()].sort((a, b) => a.x - b.x || a.y - b.y).map(({ name }) => name);
  const waits = new Map(byPlace.map((name) => [name, new Set<string>()]));
  for (const [to, from] of scene.wires) waits.get(endOf(to).block)?.add(endOf(from).block);
  const order: string[] = [];
  const left = new Set(byPlace);
  while (left.size > 0) {
    const ready = byPlace.find((name) => left.has(name) && ![...(waits.get(name) ?? [])].some((one) => left.has(one)));
    const next = ready ?? byPlace.find((name) => left.has(name));
    if (next === undefined) break;
    order.push(next);
    left.delete(next);
  }
  return order;
}
