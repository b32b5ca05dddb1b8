/** Why a thing is as it is: the equations of the block its value comes from with their numbers, and what goes in and comes out at the tick looked at. */
import { useEffect, useMemo, useRef } from 'react';
import type { BlockText, Equation } from '../../compiler/language/syntax.ts';
import { formulaMarks } from '../../compiler/picture/card_body.ts';
import { layoutEquation } from '../../compiler/picture/formula.ts';
import { Marks } from '../parts/formula.tsx';
import { GateRows } from '../parts/gate_rows.tsx';
import { Reading } from '../parts/reading.tsx';
import { blockOf, type Mark } from '../session.ts';
import { useBench, useSession, useSheet, useWorkbench } from '../workbench.ts';
import { goTo } from './going.ts';
import type { Placed, Scene } from './scene.ts';
import { textOf } from './shelf_items.ts';
import { useScene } from './use_scene.ts';

const SIZE = 14.5;
const WIDTH = 262;
/** Equations shown of a block that has no law for its card. */
const MOST = 4;

/** The explanation of what the mark is on, once it was asked for; goes with the mark. */
export function Why() {
  const { session } = useWorkbench();
  const why = useSession((state) => state.why);
  const mark = useSession((state) => state.mark);
  const scene = useScene();
  const facts = useBench().facts;
  const name = mark === undefined ? undefined : explainedBlock(scene, mark);
  const placed = name === undefined ? undefined : scene.cards.get(name);
  const place = useRef<HTMLElement>(null);
  useEffect(() => {
    if (why && name !== undefined) place.current?.scrollIntoView({ block: 'nearest' });
  }, [why, name]);
  if (!why || placed === undefined) return null;
  return (
    <section className="why" aria-label={`Why ${placed.name} is as it is`} ref={place}>
      <header>
        <h2>Why {placed.name} is as it is</h2>
        <button type="button" aria-label="Close the explanation" onClick={() => session.setState({ why: false })}>
          ×
        </button>
      </header>
      <Explanation placed={placed} scene={scene} />
      {facts === undefined && <p className="quiet">Its values stand here once it has run.</p>}
    </section>
  );
}

/** The block a mark is explained by: its own, or the one its value comes from. */
export function explainedBlock(scene: Scene, mark: Mark): string | undefined {
  const source = mark.on === 'input' || mark.on === 'line' ? scene.wires.get(mark.at) : undefined;
  const name = blockOf(source === undefined ? mark : { on: 'output', at: source });
  return name === '' ? undefined : name;
}

function Explanation({ placed, scene }: { placed: Placed; scene: Scene }) {
  const workbench = useWorkbench();
  const sheet = useSheet();
  const path = `${scene.path}${placed.name}`;
  const text = textOf(sheet, placed.block.is);
  const inputs = placed.description.inputs.map(({ name }) => name);
  const outputs = placed.description.outputs.map(({ name }) => name);
  const memories = (text?.memories ?? []).flatMap(({ kind, name }) =>
    kind === 'line' || outputs.includes(name) ? [] : [name],
  );
  return (
    <>
      {equationsOf(placed, text).map((equation) => (
        <Law key={`${equation.kind} ${equation.name}`} equation={equation} placed={placed} />
      ))}
      {placed.description.guards && <GateRows path={path} />}
      <dl>
        {inputs.map((input) => {
          const source = scene.wires.get(`${placed.name}.${input}`);
          return (
            <div key={input}>
              <dt>{input}</dt>
              <dd>
                <Reading name={`${path}.${input}`} />
                {source !== undefined && (
                  <button type="button" onClick={() => goTo(workbench, { on: 'output', at: source })}>
                    ← {source}
                  </button>
                )}
              </dd>
            </div>
          );
        })}
        {memories.map((memory) => (
          <div key={memory}>
            <dt>
              {memory} <small>kept</small>
            </dt>
            <dd>
              <Reading name={`${path}.${memory}`} />
            </dd>
          </div>
        ))}
        {outputs.map((output) => (
          <div key={output} data-output>
            <dt>{output}</dt>
            <dd>
              <Reading name={`${path}.${output}`} />
            </dd>
          </div>
        ))}
      </dl>
      {text?.source !== undefined && <p className="quiet">{text.source}</p>}
    </>
  );
}

/** Those of its card, else the first of its text. */
function equationsOf({ description }: Placed, text: BlockText | undefined): readonly Equation[] {
  if (description.law.length > 0) return description.law;
  const plain = (text?.equations ?? []).filter(({ kind }) => kind === 'plain' || kind === 'next' || kind === 'rate');
  return description.guards ? [] : plain.slice(0, MOST);
}

function Law({ equation, placed }: { equation: Equation; placed: Placed }) {
  const { formula, marks } = useMemo(() => {
    const laid = layoutEquation(equation, { size: SIZE, maxWidth: WIDTH, values: placed.description.values });
    return { formula: laid, marks: formulaMarks(laid, 0, laid.ascent).marks };
  }, [equation, placed]);
  return (
    <svg
      className="picture law"
      width={Math.ceil(formula.width)}
      height={Math.ceil(formula.ascent + formula.descent)}
      aria-hidden="true"
    >
      <Marks marks={marks} />
    </svg>
  );
}
