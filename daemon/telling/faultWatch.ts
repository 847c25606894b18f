import type { ProgressView } from '../server/messages.ts';

/** A run that has been recovering for so long will not be back by itself soon: a retry takes seconds, a device that is plugged in again a minute (common practice, no source). */
export const standsStillMs = 120_000;
/** Tiles left out that are worth a person's look: so many, and so large a share of those that were come to (common practice, no source). */
const manySkipped = 10;
const largeShare = 0.1;

/** What has been told in this night already. */
export interface FaultState {
  readonly recoveringSinceMs: number | undefined;
  readonly standstillTold: boolean;
  readonly skipsTold: boolean;
}

export const noFault: FaultState = { recoveringSinceMs: undefined, standstillTold: false, skipsTold: false };

type Look = Pick<ProgressView, 'state' | 'sentence' | 'tilesDone' | 'tilesSkipped'>;

/**
 * Whether a person should be told of a fault now. Not of a retry, nor of one tile: of a run that has stood still for two minutes
 * (told again only after it has gone on), and, once a night, of a tenth of the tiles being left out. What ends the night is told as its end.
 */
export function judgeFault(before: FaultState, { state, sentence, tilesDone, tilesSkipped }: Look, nowMs: number): { readonly state: FaultState; readonly tell: readonly string[] } {
  const recoveringSinceMs = state === 'recovering' ? (before.recoveringSinceMs ?? nowMs) : undefined;
  const stands = recoveringSinceMs !== undefined && nowMs - recoveringSinceMs >= standsStillMs;
  const skipsMany = tilesSkipped >= manySkipped && tilesSkipped >= largeShare * (tilesDone + tilesSkipped);
  return {
    state: {
      recoveringSinceMs,
      standstillTold: recoveringSinceMs !== undefined && (before.standstillTold || stands),
      skipsTold: before.skipsTold || skipsMany,
    },
    tell: [
      ...(stands && !before.standstillTold ? [`The night has stood still for ${Math.round(standsStillMs / 60_000)} minutes. ${sentence}`] : []),
      ...(skipsMany && !before.skipsTold ? [`${tilesSkipped} of ${tilesDone + tilesSkipped} tiles so far were left out. The night goes on.`] : []),
    ],
  };
}
