/** Ship: which block runs on which tick, the C lit by block, and the crate it leaves in, beside its cautions. */
import { useEffect } from 'react';
import { useStore } from 'zustand';
import { placeText } from '../../compiler/findings.ts';
import { sentence } from '../../compiler/wording.ts';
import { useSheet, useWorkbench } from '../workbench.ts';
import { Beats } from './beats.tsx';
import { CText } from './c_text.tsx';
import { Crate } from './crate.tsx';
import { exported, makeC } from './export.ts';
import './ship.css';

export function Ship() {
  const workbench = useWorkbench();
  const sheet = useSheet();
  const { made, findings, failed, chosen } = useStore(exported);
  // biome-ignore lint/correctness/useExhaustiveDependencies: a new sheet, or another number type, is made anew
  useEffect(() => void makeC(workbench), [workbench, sheet, chosen]);
  const errors = findings.filter((finding) => finding.level === 'error').slice(0, 3);
  return (
    <div className="ship">
      {failed !== undefined && <p className="notice">{failed}</p>}
      {errors.length > 0 && (
        <section className="ship_refused" aria-label="Why there is no C">
          <h2>It cannot be exported yet</h2>
          <ul>
            {errors.map((finding) => (
              <li key={`${finding.id} ${finding.at.path}`}>
                <b>{placeText(finding.at)}</b> {sentence(finding).full}
              </li>
            ))}
          </ul>
        </section>
      )}
      {made === undefined ? (
        errors.length === 0 && <p className="notice">Making the C…</p>
      ) : (
        <>
          <Beats made={made} />
          <CText files={made.files} />
          <Crate made={made} />
        </>
      )}
    </div>
  );
}
