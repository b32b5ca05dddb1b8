/** The bench: the machine, why its gate is shut, knobs, nudges and what is expected, beside the charts. */

import { useEffect } from 'react';
import { placeText } from '../../compiler/findings.ts';
import { sentence } from '../../compiler/wording.ts';
import { GateRows } from '../parts/gate_rows.tsx';
import { useBench, useWorkbench } from '../workbench.ts';
import { Charts } from './charts.tsx';
import { Expected } from './expected.tsx';
import { Knobs } from './knobs.tsx';
import { Nudges } from './nudges.tsx';
import { Stage } from './stage.tsx';
import './bench.css';
import './run.css';

export function Run() {
  const { bench } = useWorkbench();
  const { status } = useBench();
  useEffect(() => {
    if (status === 'closed') bench.ready();
  }, [bench, status]);
  return (
    <div className="bench">
      <div className="bench_side">
        <Stage />
        <Refused />
        <Gates />
        <Expected />
        <Knobs />
        <Nudges />
      </div>
      <Charts />
    </div>
  );
}

/** Why there is no run: the first errors, in words. */
function Refused() {
  const { status, findings } = useBench();
  const errors = findings.filter((finding) => finding.level === 'error').slice(0, 3);
  if (status !== 'refused' || errors.length === 0) return null;
  return (
    <section className="refused" aria-label="Why it cannot run">
      <h2>It cannot run yet</h2>
      <ul>
        {errors.map((finding) => (
          <li key={`${finding.id} ${finding.at.path}`}>
            <b>{placeText(finding.at)}</b> {sentence(finding).full}
          </li>
        ))}
      </ul>
    </section>
  );
}

function Gates() {
  const { facts } = useBench();
  return facts?.gates.map(({ path }) => (
    <section key={path} className="gate" aria-label={`Gate ${path}`}>
      <h2>{path}</h2>
      <GateRows path={path} />
    </section>
  ));
}
