/** The present scene, as a hook. */
import { useSession, useSheet, useWorkbench } from '../workbench.ts';
import type { Scene } from './scene.ts';

export function useScene(): Scene {
  const workbench = useWorkbench();
  useSheet();
  useSession((session) => session.scope);
  useSession((session) => session.astray);
  return workbench.scene();
}
