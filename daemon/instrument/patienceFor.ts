import { USUAL_PATIENCE, type Patience } from '../../drivers/safety/patience.ts';
import type { InstrumentConfig } from '../config/instrument.ts';

/** The longest way takes so much longer than it should, and the controller thinks for so long besides, before a move counts as lost. */
const SLOWNESS = 3;
const THINKING_MS = 30_000;

function longestMs(wayUm: number, speedUmPerS: number): number {
  return THINKING_MS + (SLOWNESS * 1000 * wayUm) / speedUmPerS;
}

/** How long this instrument's moves may take. */
export function patienceFor({ limits, stage, focus }: Pick<InstrumentConfig, 'limits' | 'stage' | 'focus'>): Patience {
  const wayUm = Math.hypot(limits.xMaxUm - limits.xMinUm, limits.yMaxUm - limits.yMinUm);
  const slowestZUmPerS = Math.min(focus.speedUmPerS, limits.maxLowFocusSpeedUmPerS);
  return {
    ...USUAL_PATIENCE,
    stageMoveMs: longestMs(wayUm, stage.maxSpeedUmPerS) + longestMs(limits.maxLowTravelUm, limits.maxLowSpeedUmPerS),
    focusMoveMs: longestMs(limits.zMaxUm - limits.zMinUm, slowestZUmPerS),
  };
}
