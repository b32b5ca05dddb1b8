/** What every part of the editor works with: the sheet, the session, the journal and the checker, joined once in `main.tsx`. */
import { createContext, useContext, useSyncExternalStore } from 'react';
import { useStore } from 'zustand';
import type { Sheet } from '../compiler/sheet/sheet.ts';
import type { Beside, BesideStore } from './document/beside.ts';
import type { State } from './document/history.ts';
import type { Journal, KeepingStatus } from './document/journal.ts';
import type { SheetDocument } from './document/sheet.ts';
import type { Scene } from './draw/scene.ts';
import type { Session, SessionStore } from './session.ts';
import type { BenchClient, BenchState } from './work/bench.ts';
import type { Checked, Checker } from './work/compile.ts';

export interface Workbench {
  readonly document: SheetDocument;
  readonly session: SessionStore;
  readonly journal: Journal;
  readonly beside: BesideStore;
  readonly checker: Checker;
  readonly bench: BenchClient;
  /** The cards, ports and lines of what is drawn now. */
  scene(): Scene;
}

export const WorkbenchContext = createContext<Workbench | undefined>(undefined);

export function useWorkbench(): Workbench {
  const workbench = useContext(WorkbenchContext);
  if (workbench === undefined) throw new Error('The shell is mounted without a workbench.');
  return workbench;
}

export function useSession<T>(choose: (session: Session) => T): T {
  return useStore(useWorkbench().session, choose);
}

export function useHistory(): State {
  const { document } = useWorkbench();
  return useSyncExternalStore(document.subscribe, document.state);
}

export function useSheet(): Sheet {
  return useHistory().held.sheet;
}

export function useBeside(): Beside {
  const { beside } = useWorkbench();
  return useSyncExternalStore(beside.subscribe, beside.files);
}

export function useKeeping(): KeepingStatus {
  const { journal } = useWorkbench();
  return useSyncExternalStore(journal.subscribe, journal.status);
}

export function useBench(): BenchState {
  const { bench } = useWorkbench();
  return useSyncExternalStore(bench.subscribe, bench.state);
}

export function useChecked(): Checked {
  const { checker } = useWorkbench();
  return useSyncExternalStore(checker.subscribe, checker.latest);
}
