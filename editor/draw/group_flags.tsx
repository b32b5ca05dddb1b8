/** The flags of a group's ports on its own paper; each is wired like any port. */
import { thingId } from '../session.ts';
import { useWorkbench } from '../workbench.ts';
import { pressPort } from './connect.ts';
import { flagOutline } from './group_ends.ts';
import type { Scene } from './scene.ts';

export function GroupFlags({ scene }: { scene: Scene }) {
  const workbench = useWorkbench();
  return scene.ends.map((end) => {
    const on = end.direction === 'in' ? 'output' : 'input';
    const { x, y, width, height } = end.area;
    return (
      <div
        key={end.name}
        id={thingId({ on, at: end.name })}
        className="flag nodrag nopan"
        role="img"
        aria-label={`${end.direction === 'in' ? 'input' : 'output'} ${end.name} of the group`}
        style={{ left: x, top: y, width, height }}
        onPointerDown={(event) => {
          event.stopPropagation();
          pressPort(workbench, { on, at: end.name }, event.nativeEvent);
        }}
      >
        <svg width={width} height={height} aria-hidden="true">
          <path className="m_card" d={flagOutline(end)} />
          <text
            className="m_name f_italic"
            x={width / 2 + (end.direction === 'in' ? -4 : 4)}
            y={height / 2 + 5}
            textAnchor="middle"
            fontSize={14}
          >
            {end.name}
          </text>
        </svg>
      </div>
    );
  });
}
