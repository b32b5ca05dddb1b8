/** Marks of the picture code as SVG: typeset laws, names, ports, curves, combs, lines, all as text and paths, styled by their roles. */
import { memo } from 'react';
import type { Mark } from '../../compiler/picture/marks.ts';
import { styles } from '../../compiler/picture/palette.ts';

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

/** The roles' styles as rules of the page, from the one table that exports are drawn by too. */
export function installMarkStyles(): void {
  const rules = Object.entries(styles).map(([role, { fill, stroke, width, dash }]) => {
    const path = [
      `fill:${fill === undefined ? 'none' : `var(--${fill})`}`,
      `stroke:${stroke === undefined ? 'none' : `var(--${stroke})`}`,
      ...(width === undefined ? [] : [`stroke-width:${width}px`]),
      ...(dash === undefined ? [] : [`stroke-dasharray:${dash}`]),
    ];
    return `path.m_${role}{${path.join(';')}} text.m_${role}{fill:var(--${fill ?? stroke ?? 'ink'})}`;
  });
  const sheet = new CSSStyleSheet();
  sheet.replaceSync(rules.join('\n'));
  document.adoptedStyleSheets.push(sheet);
}
