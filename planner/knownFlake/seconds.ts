import { searchCost, searchSeconds } from '../focus/exposures.ts';
import { frameSeconds } from '../plan/stays.ts';
import { focusMoveSeconds, travelSeconds } from '../plan/travel.ts';
import { travelTiming } from '../plan/forecast.ts';
import type { PlannedChip, PlanRequest } from '../plan/types.ts';
import type { StagePoint } from '../units/index.ts';

/** Time of one visit once the stage is there, in s: settling, a search over the whole range, and frames that are each read before the next one is taken. */
export function visitSeconds({ focus, timing }: Pick<PlanRequest, 'focus' | 'timing'>, frames: number, readS: number): number {
  return timing.settleMs / 1000 + searchSeconds(searchCost(focus.rangeUm, focus.depthOfFieldUm, focus.takeUpUm, 0), timing) + frames * (frameSeconds(timing) + readS);
}

/**
 * Ways that the visits add to a night, in s: there at the beginning (objective down for the first time) and up again; after the last tile there once more. The
 * way from there to the first chip is the plan's own, which begins where the stage then stands.
 */
export function knownFlakeWays(atUm: StagePoint, chips: readonly PlannedChip[], request: PlanRequest): number {
  const { limits, lowTravel } = request;
  const timing = { ...travelTiming(request), perTileS: 0 };
  const lowerS = focusMoveSeconds(lowTravel?.raiseUm ?? 0, request.timing);
  const middle = { xUm: (limits.xMinUm + limits.xMaxUm) / 2, yUm: (limits.yMinUm + limits.yMaxUm) / 2 };
  const there = travelSeconds(middle, atUm, { ...timing, maxSpeedUmPerS: timing.highSpeedUmPerS, lowTravel: { maxUm: Infinity, raiseUm: 0 } });
  const last = chips.at(-1)?.tiles.at(-1)?.centreUm;
  return there + 2 * lowerS + (last ? travelSeconds(last, atUm, timing) : 0);
}
