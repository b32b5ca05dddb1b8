/** Marks of the picture code as SVG: typeset laws, names, ports, curves, combs, all as text and paths. */
import { memo } from 'react';
import type { Mark } from '../../compiler/picture/marks.ts';

/** Draws marks in order; each carries its role as a class, and the setting it shows as data. */
export const Marks = memo(function Marks({ marks }: { marks: readonly Mark[] }) {
  return marks.map((mark, index) => {
    // biome-ignore lint/suspicious/noArrayIndexKey: marks have no identity but their order
    if (mark.shape === 'path') return <path key={index} className={`m_${mark.role}`} d={mark.d} />;
    return (
      <text
        // biome-ignore lint/suspicious/noArrayIndexKey: marks have no identity but their order
        key={index}
        className={`m_${mark.role} f_${mark.face}`}
        x={mark.x}
        y={mark.y}
        fontSize={mark.size}
        textAnchor={mark.anchor}
        data-setting={mark.setting}
      >
        {mark.text}
      </text>
    );
  });
});
