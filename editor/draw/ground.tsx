/** The plant ground: a flat tint under the plant side, hatched in a narrow band along its shore. */
import { memo } from 'react';
import type { Ground as Outline } from '../../compiler/picture/ground.ts';

/** Of the hatched band inside the edge, px. */
const BAND = 10;

export const Ground = memo(function Ground({ outline }: { outline: Outline }) {
  if (outline.d === '') return null;
  return (
    <svg className="lines ground" aria-hidden="true">
      <defs>
        <pattern id="hatch" width="6" height="6" patternUnits="userSpaceOnUse" patternTransform="rotate(45)">
          <path d="M0 0V6" className="hatch" />
        </pattern>
        <clipPath id="ground_inside">
          <path d={outline.d} clipRule="evenodd" />
        </clipPath>
      </defs>
      <path className="tint" d={outline.d} fillRule="evenodd" />
      <path d={outline.d} fill="none" stroke="url(#hatch)" strokeWidth={2 * BAND} clipPath="url(#ground_inside)" />
      <path className="shore" d={outline.d} />
    </svg>
  );
});
