/** The present scene, as a hook. */
import { useChecked, useSession, useSheet, useWorkbench } from '../workbench.ts';
import type { Scene } from './scene.ts';

export function useScene(): Scene {
  const workbench = useWorkbench();
  useSheet();
  useChecked();
  useSession((session) => session.scope);
  useSession((session) => session.within);
  useSession((session) => session.astray);
  useSession((session) => session.bent);
  return workbench.scene();
}
