/** The flags of a group's ports on its own paper; each is wired like any port. */
import { thingId } from '../session.ts';
import { useWorkbench } from '../workbench.ts';
import { CardPicture } from './card.tsx';
import { pressPort } from './connect.ts';
import type { Scene } from './scene.ts';

export function GroupFlags({ scene }: { scene: Scene }) {
  const workbench = useWorkbench();
  return scene.ends.map(({ name, direction, card, x, y }) => {
    const on = direction === 'in' ? 'output' : 'input';
    return (
      <div
        key={name}
        id={thingId({ on, at: name })}
        className="flag nodrag nopan"
        role="img"
        aria-label={`${name}, ${card.spoken}`}
        style={{ left: x, top: y, width: card.width, height: card.height }}
        onPointerDown={(event) => {
          event.stopPropagation();
          pressPort(workbench, { on, at: name }, event.nativeEvent);
        }}
      >
        <CardPicture card={card} />
      </div>
    );
  });
}
