/** What is shown while a line hangs: the focus mark on its port, the line itself, and the ports that fit, numbered. */
import { useSession, useSheet, useWorkbench } from '../workbench.ts';
import { candidates, nameOfEnd } from './fitting.ts';
import type { Scene } from './scene.ts';
import { joinCandidate, matching, nameOf } from './wiring.ts';

/** The focus mark where it is on a port. */
export function PortMark({ scene }: { scene: Scene }) {
  const mark = useSession((session) => session.mark);
  const place = mark === undefined || mark.on === 'block' || mark.on === 'line' ? undefined : scene.ports.get(mark.at);
  if (place === undefined) return null;
  return (
    <span className="port_mark" style={{ left: place.x, top: place.y }} aria-hidden="true">
      <span className={`port_name at_${place.side}`}>{place.port}</span>
    </span>
  );
}

export function PendingLine({ scene }: { scene: Scene }) {
  const pending = useSession((session) => session.pending);
  if (pending === undefined) return null;
  const from = scene.ports.get(pending.from.at);
  if (from === undefined) return null;
  const [x, y] = pending.to;
  const middle = (from.x + x) / 2;
  return (
    <svg className="lines pending" aria-hidden="true">
      <path
        className="line"
        d={`M${from.x} ${from.y}H${middle}V${y}H${x}`}
        data-over={pending.over !== undefined || undefined}
      />
      {pending.over !== undefined && <circle className="snap" cx={x} cy={y} r={9} />}
    </svg>
  );
}

/** Fitting ports, while a line hangs by keys or by a tap: a number at each, and the list of them at the port. */
export function FittingPorts({ scene }: { scene: Scene }) {
  const workbench = useWorkbench();
  const mode = useSession((session) => session.mode);
  const dragged = useSession((session) => session.pending?.from);
  const sheet = useSheet();
  const from = mode.is === 'wiring' ? mode.from : dragged;
  if (from === undefined) return null;
  const all = candidates(sheet, scene.scope, from);
  const left = matching(all, mode.is === 'wiring' ? mode.typed : '');
  const start = scene.ports.get(from.at);
  const numbered = mode.is === 'wiring';
  return (
    <>
      {left.map(({ number, candidate }) => {
        const at =
          candidate.add === undefined ? scene.ports.get(nameOfEnd(candidate.block, candidate.port)) : undefined;
        if (at === undefined) return null;
        return (
          <button
            type="button"
            tabIndex={-1}
            key={number}
            className={`fits at_${at.side} nodrag nopan`}
            data-taken={candidate.taken || undefined}
            style={{ left: at.x, top: at.y }}
            aria-label={`${number}: ${nameOf(candidate)}`}
            onClick={() => joinCandidate(workbench, from, candidate)}
          >
            {numbered ? number : ''}
          </button>
        );
      })}
      {numbered && start !== undefined && (
        <ol className="fit_list nodrag nopan nowheel" style={{ left: start.x + 12, top: start.y + 16 }}>
          {mode.typed !== '' && <li className="typed">{mode.typed}</li>}
          {left.slice(0, 9).map(({ number, candidate }, index) => (
            <li key={number} data-first={index === 0 || undefined}>
              <button type="button" tabIndex={-1} onClick={() => joinCandidate(workbench, from, candidate)}>
                <b>{number}</b> {nameOf(candidate)}{' '}
                <small>{candidate.taken ? 'instead of what it takes' : candidate.words}</small>
              </button>
            </li>
          ))}
        </ol>
      )}
    </>
  );
}
