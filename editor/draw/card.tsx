/** A card on the paper, near and at middle distance: its marks, its ports, its blanks, and the findings beside it. */
import { memo, useContext } from 'react';
import type { Card, CardPort, Field } from '../../compiler/picture/card_size.ts';
import { EditedText } from '../parts/edited_text.tsx';
import { Marks } from '../parts/formula.tsx';
import { SettingField } from '../parts/value_field.tsx';
import { thingId } from '../session.ts';
import { useChecked, useSession, useSheet, useWorkbench } from '../workbench.ts';
import { pressPort } from './connect.ts';
import { fieldBeside } from './fields.ts';
import { markOf, shownFindings } from './findings_walk.ts';
import { LiveCard } from './live.tsx';
import { renameMark } from './naming.ts';
import { NearContext } from './near.ts';
import type { Placed } from './scene.ts';

interface NodeProperties {
  readonly data: { readonly placed: Placed; readonly path: string };
  readonly selected?: boolean;
}

/** What the canvas mounts for a card. */
export const CardOnPaper = memo(function CardOnPaper({ data: { placed, path }, selected }: NodeProperties) {
  const { name, card } = placed;
  const marked = useSession(({ mark }) => mark?.on === 'block' && mark.at === name);
  const flash = useSession((session) => session.flash === name);
  const { session } = useWorkbench();
  return (
    // biome-ignore lint/a11y/useSemanticElements: a card is no set of form fields
    <div
      className="card"
      id={thingId({ on: 'block', at: name })}
      role="group"
      aria-label={`${name}, ${placed.description.kind}`}
      data-selected={selected || undefined}
      data-marked={marked || undefined}
      data-flash={flash || undefined}
      onPointerDown={() => session.setState({ mark: { on: 'block', at: name } })}
      onAnimationEnd={() => session.setState({ flash: undefined })}
    >
      <CardPicture card={card} />
      {(selected || marked) && <Corners card={card} marked={marked} />}
      {card.ports.map((port) => (
        <Port key={`${port.direction} ${port.name}`} block={name} port={port} />
      ))}
      {card.fields.map((field) => (
        <Blank key={field.setting} block={name} field={field} />
      ))}
      <LiveCard placed={placed} path={`${path}${name}`} />
      <NameField name={name} />
      <FoundHere name={name} card={card} />
    </div>
  );
});

/** The picture of a card alone, as on the shelf and in the margin. */
export function CardPicture({ card }: { card: Card }) {
  const near = useContext(NearContext);
  return (
    <svg className="picture" width={card.width} height={card.height} aria-hidden="true">
      <Marks marks={near ? card.marks : card.middle} />
    </svg>
  );
}

/** Selection is ink: an outline with corner brackets; the focus mark is an outline with a gap. */
function Corners({ card: { width, height, outline }, marked }: { card: Card; marked: boolean }) {
  const [w, h, arm] = [width + 5, height + 5, 9];
  const corner = (x: number, y: number, dx: number, dy: number) => `M${x + dx * arm} ${y}H${x}V${y + dy * arm}`;
  const brackets = corner(-5, -5, 1, 1) + corner(w, -5, -1, 1) + corner(-5, h, 1, -1) + corner(w, h, -1, -1);
  return (
    <svg className="chosen" width={width} height={height} aria-hidden="true">
      <path className="chosen_outline" d={outline} />
      {marked ? (
        <rect className="mark_ring" x={-8} y={-8} width={width + 16} height={height + 16} rx={3} />
      ) : (
        <path d={brackets} />
      )}
    </svg>
  );
}

function Port({ block, port }: { block: string; port: CardPort }) {
  const workbench = useWorkbench();
  const at = `${block}.${port.name}`;
  const on = port.direction === 'in' ? 'input' : 'output';
  const marked = useSession(({ mark }) => mark?.at === at && mark.on === on);
  const over = useSession(({ pending }) => pending?.over?.at === at && pending.over.on === on);
  return (
    // biome-ignore lint/a11y/useKeyWithClickEvents: keys act on the paper, at the mark; this only keeps the click to itself
    <span
      className="port nodrag nopan"
      id={thingId({ on, at })}
      role="img"
      aria-label={`${on} ${port.name}`}
      title={port.name}
      data-port={at}
      data-on={on}
      data-marked={marked || undefined}
      data-over={over || undefined}
      style={{ left: port.x, top: port.y }}
      onPointerDown={(event) => {
        event.stopPropagation();
        pressPort(workbench, { on, at }, event.nativeEvent);
      }}
      onClick={(event) => event.stopPropagation()}
    />
  );
}

function Blank({ block, field }: { block: string; field: Field }) {
  const { session } = useWorkbench();
  const workbench = useWorkbench();
  const name = `card ${block}.${field.setting}`;
  return (
    <div
      className="on_card nodrag"
      style={{ left: field.x, top: field.y, width: field.width, height: field.height, fontSize: field.fontSize }}
    >
      <SettingField
        field={name}
        block={block}
        setting={field.setting}
        onPaper
        onTab={(back) => session.setState({ editing: fieldBeside(workbench, block, name, back) })}
      >
        <span className="unseen">{field.text}</span>
      </SettingField>
    </div>
  );
}

/** The name becomes a field while it is edited; otherwise the picture shows it. */
function NameField({ name }: { name: string }) {
  const workbench = useWorkbench();
  const field = `name ${name}`;
  const editing = useSession((session) => session.editing === field);
  if (!editing) return null;
  return (
    <div className="on_card name_field nodrag">
      <EditedText
        field={field}
        label={`Name of ${name}`}
        value={name}
        change={(text) => renameMark(workbench, name, text.trim())}
      />
    </div>
  );
}

const SIGNS = { error: '▲', warning: '△', advice: '○' } as const;

/** A proofreader's mark beside the card for the worst of its findings. */
function FoundHere({ name, card }: { name: string; card: Card }) {
  const { findings } = useChecked();
  const sheet = useSheet();
  const scope = useSession((session) => session.scope);
  const here = shownFindings(findings, sheet).filter((finding) => markOf(sheet, scope, finding)?.at === name);
  const worst = here[0];
  if (worst === undefined) return null;
  return (
    <span className="found_here" data-level={worst.level} style={{ left: card.width + 11 }} aria-hidden="true">
      {SIGNS[worst.level]}
    </span>
  );
}
