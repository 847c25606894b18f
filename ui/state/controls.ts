import type { ControlsView } from '../../daemon/server/messages.ts';

/** Where this browser stands with the controls. */
export type Standing =
  | { readonly is: 'unknown' }
  | { readonly is: 'free' }
  | { readonly is: 'yours'; readonly untilMs: number }
  /** Yours, and somebody asks for them. */
  | { readonly is: 'asked'; readonly by: string; readonly untilMs: number }
  | { readonly is: 'watching'; readonly holder: string; readonly untilMs: number; readonly isGone: boolean; readonly asker?: string }
  /** You asked for them. */
  | { readonly is: 'asking'; readonly holder: string; readonly untilMs: number };

/** Reads off what the server said of the controls. */
export function standingOf(controls: ControlsView | null): Standing {
  if (!controls) return { is: 'unknown' };
  const { holder, asker, yours } = controls;
  if (!holder) return { is: 'free' };
  if (yours) return asker ? { is: 'asked', by: asker.name, untilMs: asker.untilMs } : { is: 'yours', untilMs: holder.untilMs };
  if (asker?.yours) return { is: 'asking', holder: holder.name, untilMs: asker.untilMs };
  return { is: 'watching', holder: holder.name, untilMs: holder.untilMs, isGone: holder.isGone, ...(asker ? { asker: asker.name } : {}) };
}

/** Who else has the controls, so that nothing here may move anything; `null` when nobody else does. */
export function heldByOther(standing: Standing): string | null {
  return standing.is === 'watching' || standing.is === 'asking' ? standing.holder : null;
}

/** What the key for the controls does: what the first button of the line says. `undefined` when there is nothing to do. */
export function controlsAction(standing: Standing): 'takeControls' | 'giveUpControls' | 'keepControls' | undefined {
  switch (standing.is) {
    case 'free':
      return 'takeControls';
    case 'watching':
      return standing.asker === undefined ? 'takeControls' : undefined;
    case 'yours':
    case 'asking':
      return 'giveUpControls';
    case 'asked':
      return 'keepControls';
    case 'unknown':
      return undefined;
  }
}
