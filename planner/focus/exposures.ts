import { axisSeconds } from '../plan/kinematics.ts';
import type { StagePoint } from '../units/index.ts';
import { expectFocus, LEAST_REACH } from './prediction.ts';
import type { FocusPolicy, KnownFocus } from './prediction.ts';
import { sweepExposures } from './search.ts';

/** What one focus search takes when its peak lies where it is expected. */
export interface SearchCost {
  readonly exposures: number;
  /** Whole frames: one to see where in the field there is something to focus on, and one at the peak; none for a point that is measured again. */
  readonly frames: 0 | 2;
  /** Ways of the focus drive that follow an exposure and run while that is read out, in um. */
  readonly stepsUm: readonly number[];
  /** Ways that nothing else goes on beside: run-ups, the way back, the way to the peak. */
  readonly waysUm: readonly number[];
}

export interface FocusTiming {
  readonly exposureMs: number;
  readonly readoutMs: number;
  readonly focusSettleMs: number;
  readonly focusSpeedUmPerS: number;
  readonly focusAccelerationUmPerS2: number;
}

/** The exposures that the policy takes for one chip's focus, from the plan alone. */
export interface ChipFocusCost {
  /** Of the first point, which is searched over the whole range, with its whole frames. */
  readonly first: number;
  /** Of each later point; the last is the repetition of the first, which tells how focus drifts. */
  readonly later: readonly number[];
  readonly total: number;
  readonly searches: readonly SearchCost[];
}

/**
 * What a search over a range takes: see `beginSearch`, and its whole frames. The drive stands at the expected height when it begins.
 * @param takeUpUm from how far below a height is reached
 */
export function searchCost(rangeUm: number, depthOfFieldUm: number, takeUpUm: number, frames: 0 | 2 = 2): SearchCost {
  const { first, second } = sweepExposures(2 * rangeUm, depthOfFieldUm);
  const reachUm = Math.max(depthOfFieldUm, rangeUm / (first - 1));
  const steps = (count: number, halfUm: number): number[] => Array.from({ length: Math.max(0, count - 1) }, () => (2 * halfUm) / (count - 1));
  const lastUm = second > 0 ? reachUm : rangeUm;
  return {
    exposures: first + second,
    frames,
    stepsUm: [...steps(first, rangeUm), ...steps(second, reachUm)],
    waysUm: [rangeUm + takeUpUm, takeUpUm, ...(second > 0 ? [rangeUm + reachUm + takeUpUm, takeUpUm] : []), lastUm + takeUpUm, takeUpUm],
  };
}

/** What it takes to measure focus again where it is well known where it lies: a short search, without a whole frame. */
export function checkCost({ depthOfFieldUm, takeUpUm }: { readonly depthOfFieldUm: number; readonly takeUpUm: number }): SearchCost {
  return searchCost(LEAST_REACH * depthOfFieldUm, depthOfFieldUm, takeUpUm, 0);
}

/**
 * Time of a search and of its whole frames, in s, once the stage stands: every exposure waits for the drive to settle,
 * and the drive steps on while the frame is read out.
 */
export function searchSeconds(cost: SearchCost, timing: FocusTiming): number {
  const { exposureMs, readoutMs, focusSettleMs, focusSpeedUmPerS, focusAccelerationUmPerS2 } = timing;
  const moveMs = (wayUm: number): number => 1000 * axisSeconds(wayUm, focusSpeedUmPerS, focusAccelerationUmPerS2);
  const sweeps = cost.exposures - cost.stepsUm.length;
  const stepsMs = cost.stepsUm.reduce((sum, stepUm) => sum + Math.max(readoutMs, moveMs(stepUm) + focusSettleMs), 0);
  const waysMs = cost.waysUm.reduce((sum, wayUm) => sum + moveMs(wayUm), 0);
  // The last exposure of each sweep is read out before anything else begins; the first waits for the drive, as the whole frame does.
  return (cost.exposures * exposureMs + stepsMs + sweeps * (readoutMs + focusSettleMs) + waysMs + focusSettleMs + cost.frames * (exposureMs + readoutMs) + (cost.frames > 0 ? focusSettleMs : 0)) / 1000;
}

/**
 * How many exposures the policy takes to find focus at a chip's points, in this order, with two whole frames at each: what the forecast
 * and the bound of a plan count; the first point is measured once more at the end. A place without texture takes more, and nobody knows before which ones have none.
 */
export function focusExposures({ pointsUm, takeUpUm, ...policy }: FocusPolicy & { readonly pointsUm: readonly StagePoint[]; readonly takeUpUm: number }): ChipFocusCost {
  const known: KnownFocus[] = [];
  const searches = pointsUm.map((atUm) => {
    const { rangeUm } = expectFocus(known, atUm, 0, policy);
    known.push({ atUm, zUm: 0 });
    return searchCost(rangeUm, policy.depthOfFieldUm, takeUpUm);
  });
  // The first point once more: without a whole frame, and where it is well known where focus lies.
  if (pointsUm.length > 0) searches.push(searchCost(Math.min(policy.rangeUm, LEAST_REACH * policy.depthOfFieldUm), policy.depthOfFieldUm, takeUpUm, 0));
  const [first = 0, ...later] = searches.map(({ exposures, frames }) => exposures + frames);
  return { first, later, total: later.reduce((sum, count) => sum + count, first), searches };
}
