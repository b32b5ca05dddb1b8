/** The five regions of the screen, as landmarks, and the slots of the views. */
import { Suspense, useEffect, useRef } from 'react';
import { runCommand } from './commands.ts';
import { Margin } from './draw/margin.tsx';
import { ShelfLine } from './draw/shelf.tsx';
import { TextPanel } from './draw/text_panel.tsx';
import { FileMenu } from './file_menu.tsx';
import { Find } from './find.tsx';
import { watchFocus } from './focus.ts';
import { Help } from './help.tsx';
import { CommandButton } from './parts/command_button.tsx';
import { Contained } from './parts/contained.tsx';
import { EditedText } from './parts/edited_text.tsx';
import { VIEWS, type View } from './session.ts';
import { VIEW_WORDS } from './view_words.ts';
import { Rail, VIEW_PARTS } from './views.tsx';
import { useKeeping, useSession, useWorkbench } from './workbench.ts';

export function Shell() {
  const root = useRef<HTMLDivElement>(null);
  const theme = useSession((session) => session.theme);
  const view = useSession((session) => session.view);
  const under = useSession((session) => session.under);
  const help = useSession((session) => session.help);
  useEffect(() => {
    if (root.current !== null) watchFocus(root.current);
  }, []);
  useEffect(() => {
    if (theme === undefined) delete document.documentElement.dataset.theme;
    else document.documentElement.dataset.theme = theme;
  }, [theme]);
  const drawn = view === 'draw' || under === 'draw';
  return (
    <div className="shell" ref={root}>
      <Bar />
      {drawn && (
        <nav className="shelf" data-region="shelf" aria-label="Shelf line" tabIndex={-1}>
          <Contained what="The shelf line">
            <ShelfLine />
          </Contained>
        </nav>
      )}
      <main className="paper" data-region="paper" aria-label="Paper" tabIndex={-1}>
        <ViewSlot view={view} />
        {help && <Help />}
        {drawn && <TextPanel />}
        {under !== undefined && under !== view && <ViewSlot view={under} />}
      </main>
      <aside className="margin" data-region="margin" aria-label="Margin" tabIndex={-1}>
        <Contained what="The margin">
          <Margin />
        </Contained>
      </aside>
      <section className="rail" data-region="rail" aria-label="Rail" tabIndex={-1}>
        <Contained what="The rail">
          <Suspense>
            <Rail />
          </Suspense>
        </Contained>
      </section>
      <Said />
    </div>
  );
}

function ViewSlot({ view }: { view: View }) {
  const Part = VIEW_PARTS[view];
  return (
    <section className="view" data-view={view} aria-label={VIEW_WORDS[view].name}>
      <Suspense fallback={<p className="notice">Loading {VIEW_WORDS[view].name} …</p>}>
        <Contained key={view} what={VIEW_WORDS[view].name}>
          <Part />
        </Contained>
      </Suspense>
    </section>
  );
}

function Bar() {
  const workbench = useWorkbench();
  const view = useSession((session) => session.view);
  const under = useSession((session) => session.under);
  return (
    <header className="bar" data-region="bar" tabIndex={-1}>
      <h1 className="unseen">Loopwright</h1>
      <FileName />
      <nav className="views" aria-label="Views">
        {VIEWS.map((one, index) => (
          <button
            type="button"
            key={one}
            aria-current={one === view ? 'page' : undefined}
            data-under={one === under || undefined}
            title={VIEW_WORDS[one].about}
            onClick={() => runCommand(workbench, `view.${one}`)}
          >
            <small>{index + 1}</small>
            {VIEW_WORDS[one].name}
          </button>
        ))}
      </nav>
      <div className="tools">
        <button type="button" className="find_button" onClick={() => runCommand(workbench, 'find.open')}>
          <kbd>/</kbd> find
        </button>
        <CommandButton id="history.undo" what={(state) => state.past.at(-1)?.label}>
          ↶
        </CommandButton>
        <CommandButton id="history.redo" what={(state) => state.future.at(-1)?.label}>
          ↷
        </CommandButton>
      </div>
      <Find />
    </header>
  );
}

function FileName() {
  const workbench = useWorkbench();
  const { kept, at, following, failed } = useKeeping();
  const note =
    failed ??
    (following
      ? 'another tab writes this sheet; this one follows'
      : at === undefined
        ? ''
        : `kept ${new Date(at).toLocaleTimeString('en-GB')}${kept?.written === undefined ? ', in this browser only' : ''}`);
  return (
    <div className="file">
      <FileMenu />
      <EditedText
        field="file"
        className="name"
        label="File name"
        value={kept?.name ?? 'sheet'}
        change={(text) => {
          const name = text.trim().replaceAll(/[^A-Za-z0-9_-]/g, '_');
          if (name === '') return 'A file needs a name.';
          workbench.journal.rename(name);
          return true;
        }}
      />
      <span className="kept" data-level={failed === undefined ? undefined : 'fault'} title={note}>
        {note}
      </span>
      {following && (
        <button type="button" className="written" onClick={() => workbench.journal.takeOver()}>
          Write here instead
        </button>
      )}
    </div>
  );
}

/** What is said aloud: polite, or at once for what is urgent. */
function Said() {
  const said = useSession((session) => session.said);
  return (
    <>
      <p className="unseen" role="status">
        {said.urgent ? '' : said.text}
      </p>
      <p className="unseen" role="alert">
        {said.urgent ? said.text : ''}
      </p>
      <SaidLine />
    </>
  );
}

/** The same for the eye: a line at the foot of the paper that goes away by itself. */
function SaidLine() {
  const said = useSession((session) => session.said);
  if (said.text === '') return null;
  return (
    <p className="said_line" key={said.count} aria-hidden="true" data-urgent={said.urgent || undefined}>
      {said.text}
    </p>
  );
}
