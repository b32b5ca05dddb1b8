/** Draw: the sheet on its paper, with the outline beside it while that is open. */
import { useSession } from '../workbench.ts';
import './cards.css';
import './draw.css';
import './draw_marks.css';
import { Outline } from './outline.tsx';
import { Paper } from './paper.tsx';

export function Draw() {
  const outline = useSession((session) => session.outline);
  return (
    <div className="draw" data-outline={outline || undefined}>
      {outline && <Outline />}
      <Paper />
    </div>
  );
}
