/** What the editor is made from, in help: every package and font in it with its licence, from the list made when it was built. */
import { useState } from 'react';
import type { Licence } from './licences.ts';

export function MadeFrom() {
  const [list, setList] = useState<readonly Licence[] | 'asked' | 'missing'>();
  const ask = () => {
    if (list !== undefined && list !== 'missing') return;
    setList('asked');
    fetch('./licences.json')
      .then((answer) => (answer.ok ? answer.json() : Promise.reject(new Error(answer.statusText))))
      .then(setList, () => setList('missing'));
  };
  return (
    <section className="made_from">
      <h2>What it is made from</h2>
      <details onToggle={({ currentTarget }) => currentTarget.open && ask()}>
        <summary>
          Loopwright is under the MIT licence; so are, or under their own, the libraries and fonts in it
        </summary>
        {list === 'asked' && <p className="quiet">Reading the list …</p>}
        {list === 'missing' && (
          <p className="quiet">The list is made when the editor is built, and is not beside this page.</p>
        )}
        {typeof list === 'object' && (
          <ul>
            {list.map(({ name, version, licence, text }) => (
              <li key={`${name} ${version}`}>
                {text === '' ? (
                  <>
                    <b>{name}</b> {version}, {licence}
                  </>
                ) : (
                  <details>
                    <summary>
                      <b>{name}</b> {version}, {licence}
                    </summary>
                    <pre>{text}</pre>
                  </details>
                )}
              </li>
            ))}
          </ul>
        )}
      </details>
    </section>
  );
}
