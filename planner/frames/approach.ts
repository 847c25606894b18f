import { needsRaising } from '../plan/travel.ts';
import type { StageBox, StagePoint } from '../units/index.ts';

/** What a safe way to a place needs to know. Heights in um of the focus drive, growing away from the chip. */
export interface ApproachRequest {
  readonly fromUm: StagePoint;
  readonly fromZUm: number;
  readonly targetUm: StagePoint;
  readonly focusZUm: number;
  /** At or above this height the objective clears everything. */
  readonly safeHeightUm: number;
  /** Longest way sideways with the objective down. */
  readonly maxLowTravelUm: number;
  readonly backlashUm: number;
  /** The stage's soft limits. */
  readonly limits: StageBox;
}

/** One step, to be ended before the next begins. */
export type ApproachStep =
  | { readonly kind: 'raise'; readonly zUm: number }
  | { readonly kind: 'moveXy'; readonly toUm: StagePoint }
  | { readonly kind: 'lower'; readonly zUm: number };

export type ApproachResult =
  | { readonly ok: true; readonly steps: readonly ApproachStep[] }
  | { readonly ok: false; readonly refusal: { readonly code: 'targetBeyondTravel'; readonly limit: 'xMin' | 'xMax' | 'yMin' | 'yMax'; readonly byUm: number; readonly limitUm: number } };

/**
 * The safe way to a flake: up first (to the safe height when the way is long, to the focus there when that is higher), sideways to a
 * place below the target on both axes so that backlash is always taken up alike, on to the target, and only then down to focus.
 * Next to a lower limit the overshoot is cut short at the limit. A target beyond the limits is refused.
 */
export function planApproach(request: ApproachRequest): ApproachResult {
  const { targetUm, limits, backlashUm, fromZUm, focusZUm } = request;
  const refusal = beyondTravel(targetUm, limits);
  if (refusal) return { ok: false, refusal };
  const long = needsRaising(request.fromUm, targetUm, backlashUm, request.maxLowTravelUm);
  const travelZUm = Math.max(fromZUm, focusZUm, long ? request.safeHeightUm : -Infinity);
  const before = { xUm: Math.max(limits.xMinUm, targetUm.xUm - backlashUm), yUm: Math.max(limits.yMinUm, targetUm.yUm - backlashUm) };
  const steps: ApproachStep[] = [];
  if (travelZUm > fromZUm) steps.push({ kind: 'raise', zUm: travelZUm });
  if (backlashUm > 0) steps.push({ kind: 'moveXy', toUm: before });
  steps.push({ kind: 'moveXy', toUm: targetUm });
  if (focusZUm < travelZUm) steps.push({ kind: 'lower', zUm: focusZUm });
  return { ok: true, steps };
}

function beyondTravel(target: StagePoint, limits: StageBox) {
  const sides = [
    { limit: 'xMin', byUm: limits.xMinUm - target.xUm, limitUm: limits.xMinUm },
    { limit: 'xMax', byUm: target.xUm - limits.xMaxUm, limitUm: limits.xMaxUm },
    { limit: 'yMin', byUm: limits.yMinUm - target.yUm, limitUm: limits.yMinUm },
    { limit: 'yMax', byUm: target.yUm - limits.yMaxUm, limitUm: limits.yMaxUm },
  ] as const;
  // Written so that a target that is no number is refused as well.
  const worst = sides.find((side) => !(side.byUm <= 0));
  return worst && ({ code: 'targetBeyondTravel', ...worst } as const);
}
