/** The machine itself, where a picture of it stands beside the sample: its parts turn with the run. */

import { useEffect, useRef, useState } from 'react';
import { useKeeping, useWorkbench } from '../workbench.ts';

/** Pictures by the folder they stand in; one unit is whatever the picture says. */
const pictures = import.meta.glob<string>('../../samples/*/machine.svg', { query: '?raw', import: 'default' });

/** The text of the picture of a sheet's machine: of the sample folder its name begins with. */
async function pictureOf(name: string): Promise<string | undefined> {
  const path = Object.keys(pictures).find((one) => name.startsWith(one.replace(/^.*samples\/|\/machine\.svg$/g, '')));
  return path === undefined ? undefined : pictures[path]?.();
}

export function Stage() {
  const { bench } = useWorkbench();
  const name = useKeeping().kept?.name ?? '';
  const place = useRef<HTMLDivElement>(null);
  const [there, setThere] = useState(false);
  useEffect(() => {
    let stops: (() => void)[] = [];
    let left = false;
    void pictureOf(name).then((text) => {
      if (left) return;
      setThere(text !== undefined);
      if (text === undefined || place.current === null) return;
      const svg = new DOMParser().parseFromString(text, 'image/svg+xml').documentElement;
      for (const script of svg.querySelectorAll('script, foreignObject, title, desc')) script.remove();
      for (const name of ['role', 'aria-labelledby']) svg.removeAttribute(name);
      for (const part of svg.querySelectorAll('[id]')) part.removeAttribute('id');
      place.current.replaceChildren(document.importNode(svg, true));
      stops = [...place.current.querySelectorAll<SVGElement>('[data-turn]')].map((part) =>
        bench.readings.register(
          part.dataset.turn ?? '',
          ({ numbers }) => {
            const angle = ((numbers?.[0] ?? 0) * 180) / Math.PI;
            part.setAttribute('transform', `rotate(${angle.toFixed(3)} ${part.dataset.about ?? '0 0'})`);
          },
          true,
        ),
      );
    });
    return () => {
      left = true;
      for (const stop of stops) stop();
    };
  }, [bench, name]);
  return <div className="stage" ref={place} hidden={!there} role="img" aria-label="The machine, as the run has it" />;
}
