/** Notes and frames on the paper: their marks, and places to take hold of them and to write in. */
import { useContext, useMemo, useRef } from 'react';
import { remarkMarks } from '../../compiler/picture/remarks.ts';
import type { Point } from '../../compiler/sheet/sheet.ts';
import { moveNote, titleFrame, writeNote } from '../document/remarks.ts';
import { EditedText } from '../parts/edited_text.tsx';
import { Marks } from '../parts/formula.tsx';
import { useSession, useSheet, useWorkbench } from '../workbench.ts';
import { paperPoint } from './connect.ts';
import { NearContext } from './near.ts';
import { GRID } from './scene.ts';

/** Pixels on the screen that words beside the blocks have from a distance. */
const LEAST_SIZE = 11;

/** Drawn under the cards. */
export function RemarkMarks() {
  const { desk } = useSheet();
  const scope = useSession((session) => session.scope);
  const near = useContext(NearContext);
  const zoom = useSession((session) => session.viewport.zoom);
  const size = near ? undefined : Math.max(14, Math.round(LEAST_SIZE / zoom));
  const { marks } = useMemo(() => remarkMarks(desk, scope === '' ? undefined : scope, size), [desk, scope, size]);
  return (
    <svg className="lines" aria-hidden="true">
      <Marks marks={marks} />
    </svg>
  );
}

/** Drawn over them, for the pointer and for reading aloud. */
export function Remarks() {
  const { document } = useWorkbench();
  const { desk } = useSheet();
  const scope = useSession((session) => session.scope);
  const here = scope === '' ? undefined : scope;
  return (
    <>
      {Object.entries(desk.frames).map(([name, frame]) =>
        frame.in !== here ? null : (
          <div
            key={name}
            className="remark nodrag nopan"
            style={{ left: frame.at[0] + 4, top: frame.at[1] - 22, width: frame.size[0] - 8 }}
          >
            <EditedText
              field={`frame ${name}`}
              label="Title of the frame"
              onPaper
              value={frame.title ?? ''}
              change={(text) => {
                const label = text.trim() === '' ? 'take the frame away' : `title the frame ${text.trim()}`;
                document.change(label, `${scope}/`, (sheet) => void titleFrame(sheet, name, text));
                return true;
              }}
            >
              <span className="unseen">{frame.title}</span>
            </EditedText>
          </div>
        ),
      )}
      {Object.keys(desk.notes).map((name) => (desk.notes[name]?.in !== here ? null : <Note key={name} name={name} />))}
    </>
  );
}

function Note({ name }: { name: string }) {
  const workbench = useWorkbench();
  const { desk } = useSheet();
  const scope = useSession((session) => session.scope);
  const dragged = useRef(false);
  const note = desk.notes[name];
  if (note === undefined) return null;
  const width = note.size?.[0] ?? 280;
  const lines = remarkMarks({ ...desk, frames: {}, notes: { note: { ...note } } }, note.in).marks.length;
  const onPointerDown = (press: React.PointerEvent) => {
    press.stopPropagation();
    dragged.current = false;
    const start = paperPoint(workbench, press.clientX, press.clientY);
    const onUp = (event: PointerEvent) => {
      removeEventListener('pointerup', onUp);
      const end = paperPoint(workbench, event.clientX, event.clientY);
      const by: Point = [end[0] - start[0], end[1] - start[1]];
      if (Math.hypot(by[0], by[1]) < 4) return;
      dragged.current = true;
      const at: Point = [snap(note.at[0] + by[0]), snap(note.at[1] + by[1])];
      workbench.document.change('move the note', `${scope}/`, (sheet) => void moveNote(sheet, name, at));
    };
    addEventListener('pointerup', onUp);
  };
  return (
    <div
      className="remark nodrag nopan"
      style={{ left: note.at[0] - 4, top: note.at[1] - 4, width: width + 8, height: lines * 19 + 8 }}
      onPointerDown={onPointerDown}
      onClickCapture={(event) => {
        if (dragged.current) event.stopPropagation();
      }}
    >
      <EditedText
        field={`note ${name}`}
        label="Note"
        onPaper
        value={note.text}
        long
        change={(text) => {
          const label = text.trim() === '' ? 'take the note away' : 'write a note';
          workbench.document.change(label, `${scope}/`, (sheet) => void writeNote(sheet, name, text));
          return true;
        }}
      >
        <span className="unseen">{note.text}</span>
      </EditedText>
    </div>
  );
}

function snap(value: number): number {
  return Math.round((value * 2) / GRID) * (GRID / 2);
}
