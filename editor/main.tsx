/** Opens the journal, restores the sheet that was open last, and mounts the shell. */
import { createRoot } from 'react-dom/client';
import { blankSheet } from '../compiler/sheet/sheet.ts';
import { createBeside } from './document/beside.ts';
import { acceptDrops, firstSheet, openLinked } from './document/files.ts';
import { openJournal } from './document/journal.ts';
import { createDocument } from './document/sheet.ts';
import { createScenes } from './draw/scene.ts';
import { readAhead } from './draw/shelf_items.ts';
import { installKeys } from './keys.ts';
import { installMarkStyles } from './parts/formula.tsx';
import { createSession, followChange, say, takeUp, viewOf } from './session.ts';
import { Shell } from './shell.tsx';
import './fonts.css';
import './theme.css';
import './draw/margin.css';
import { createBench } from './work/bench.ts';
import { createChecker } from './work/compile.ts';
import { type Workbench, WorkbenchContext } from './workbench.ts';

async function start(): Promise<void> {
  const journal = await openJournal();
  const restored = await journal.restore();
  const document = createDocument(blankSheet());
  const session = createSession();
  const scenes = createScenes();
  const beside = createBeside(journal.beside);
  const checker = createChecker(beside.files);
  const workbench: Workbench = {
    document,
    session,
    journal,
    beside,
    checker,
    bench: createBench({
      sheet: document.sheet,
      beside: beside.files,
      name: () => journal.status().kept?.name ?? 'sheet',
      onSheet: (listener) => document.subscribe((change) => listener(change === undefined)),
      say: (text, urgent) => say(session, text, urgent),
    }),
    scene: () => {
      const { scope, within, astray, bent } = session.getState();
      return scenes(document.sheet(), { scope, within }, { astray, bent }, checker.latest().solved);
    },
  };
  installMarkStyles();
  connect(workbench);
  if (restored === undefined) await firstSheet(workbench);
  else {
    takeUp(session, restored.view, restored.drafts);
    beside.replace(restored.beside);
    document.replace(restored.state);
  }
  await openLinked(workbench);
  addEventListener('hashchange', () => void openLinked(workbench));
  installKeys(window, workbench);
  acceptDrops(window, workbench);
  const place = globalThis.document.getElementById('shell');
  if (place === null) throw new Error('The page has no place for the shell.');
  createRoot(place).render(
    <WorkbenchContext value={workbench}>
      <Shell />
    </WorkbenchContext>,
  );
  readAhead(document.sheet());
}

/** Joins the owners of state: every step is kept and checked, every look is kept. */
function connect({ document, session, journal, checker, beside, bench }: Workbench): void {
  beside.subscribe(() => {
    checker.again();
    bench.besideChanged();
  });
  document.subscribe((change) => {
    checker.check(document.sheet(), change === undefined);
    if (change === undefined) return;
    followChange(session, change);
    journal.append(change.stroke, change.state);
  });
  bench.onNow(({ head }) => {
    const { ran, lost } = session.getState();
    if (head > 0 && (!ran || lost)) session.setState({ ran: true, lost: false });
  });
  const lock = () =>
    document.lock(
      journal.status().following ? 'Another tab writes this sheet; take it over in the bar to write here.' : undefined,
    );
  lock();
  journal.subscribe(lock);
  journal.onFollow((stroke) => {
    if (stroke !== undefined) return document.follow(stroke);
    void journal.restore(journal.status().kept?.id).then((restored) => {
      if (restored === undefined) return;
      beside.replace(restored.beside);
      document.replace(restored.state);
    });
  });
  let waiting: ReturnType<typeof setTimeout> | undefined;
  session.subscribe((now, before) => {
    const [kept, old] = [viewOf(now), viewOf(before)];
    if (Object.entries(kept).every(([key, value]) => old[key as keyof typeof old] === value)) return;
    clearTimeout(waiting);
    waiting = setTimeout(() => journal.view(viewOf(session.getState())), 200);
  });
}

void start();
