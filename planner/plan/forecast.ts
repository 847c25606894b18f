import { addDriftCheck, beginDrift, CHECK_ERROR_SHARE, checkDueMs, predictDrift } from '../focus/drift.ts';
import type { DriftState } from '../focus/drift.ts';
import { checkCost, focusExposures, searchSeconds } from '../focus/exposures.ts';
import type { StagePoint } from '../units/index.ts';
import { repeatedPoint } from './focusPoints.ts';
import { frameSeconds, standSeconds, tileSeconds } from './stays.ts';
import { focusMoveSeconds, travelSeconds } from './travel.ts';
import type { TravelTiming } from './travel.ts';
import type { PlannedChip, PlanRequest, StageTiming } from './types.ts';

export interface Forecast {
  readonly seconds: number;
  readonly bytes: number;
}

/** Frames without light that every sample's dark level is averaged over, taken before the first move. */
export const DARK_FRAMES = 4;

/** What the route and the forecast need to know to time the ways between places. */
export function travelTiming(request: Pick<PlanRequest, 'timing' | 'lowTravel'>): TravelTiming {
  const timing = { ...request.timing, perTileS: tileSeconds(request.timing) };
  return request.lowTravel ? { ...timing, lowTravel: request.lowTravel } : timing;
}

/**
 * How long the scan takes and how much it stores: dark frames, then chip after chip its focus points, its tiles and the focus points that
 * the policy measures again meanwhile, the objective up at the end. Not counted, since nobody knows before: places without texture, doubts, faults.
 */
export function forecast(chips: readonly PlannedChip[], request: PlanRequest): Forecast {
  const clock = new ForecastClock(request);
  for (const chip of chips) {
    clock.mapFocus(chip);
    clock.takeTiles(chip, request.chips.find(({ name }) => name === chip.name)?.waitsForFrame ?? false);
  }
  const tiles = chips.reduce((sum, chip) => sum + chip.tiles.length, 0);
  return { seconds: clock.seconds + focusMoveSeconds(request.lowTravel?.raiseUm ?? 0, request.timing), bytes: tiles * request.timing.bytesPerTile };
}

/** The night as it will go, step by step. */
class ForecastClock {
  seconds: number;
  private at: StagePoint | undefined;
  /** The objective is up at first: on the way to the first place it is only lowered, which is counted there. */
  private isUp = true;
  private drift: DriftState | undefined;
  private readonly request: PlanRequest;
  private readonly timing: StageTiming;
  private readonly travel: TravelTiming;

  constructor(request: PlanRequest) {
    this.request = request;
    this.timing = request.timing;
    this.travel = travelTiming(request);
    const { xMinUm, xMaxUm, yMinUm, yMaxUm } = request.limits;
    // Where the stage stands is seldom known: from the middle of its limits is as good a guess as any.
    this.at = request.fromUm ?? { xUm: (xMinUm + xMaxUm) / 2, yUm: (yMinUm + yMaxUm) / 2 };
    this.seconds = DARK_FRAMES * frameSeconds(request.timing);
  }

  mapFocus(chip: PlannedChip): void {
    const { searches } = focusExposures({ ...this.request.focus, pointsUm: chip.focusPointsUm });
    searches.forEach((search, i) => {
      // One of the points is measured again at the end.
      const point = chip.focusPointsUm[i] ?? chip.focusPointsUm[repeatedPoint(chip.focusPointsUm.length)];
      if (!point) return;
      this.goTo(point, chip);
      this.seconds += this.timing.settleMs / 1000 + searchSeconds(search, this.timing);
    });
    const nowMs = 1000 * this.seconds;
    this.drift = this.drift ? { ...predictDrift(this.drift, nowMs), offsetVariance: 0, covariance: 0 } : beginDrift(nowMs, 0);
  }

  takeTiles(chip: PlannedChip, waits: boolean): void {
    const readoutS = this.timing.readoutMs / 1000;
    for (const { centreUm } of chip.tiles) {
      if (chip.focusPointsUm.length > 0 && this.isCheckDue()) this.checkFocus();
      const before = this.seconds;
      this.goTo(centreUm, chip);
      // The next exposure cannot begin before the last frame is in.
      this.seconds = Math.max(this.seconds, waits ? 0 : before + readoutS - standSeconds(this.timing));
      this.seconds += this.travel.perTileS + (waits ? readoutS : 0);
    }
    // Nothing else begins before a chip's last frame is in.
    if (!waits && chip.tiles.length > 0) this.seconds += readoutS;
  }

  private goTo(place: StagePoint, chip: PlannedChip): void {
    const { travel, isUp, at } = this;
    if (isUp) this.seconds += focusMoveSeconds(this.request.lowTravel?.raiseUm ?? 0, this.timing);
    if (at) this.seconds += isUp ? travelSeconds(at, place, { ...travel, maxSpeedUmPerS: travel.highSpeedUmPerS, lowTravel: { maxUm: Infinity, raiseUm: 0 } }) : travelSeconds(at, place, travel, chip.outlineUm);
    this.isUp = false;
    this.at = place;
  }

  private isCheckDue(): boolean {
    return this.drift !== undefined && 1000 * this.seconds >= checkDueMs(this.drift, this.request.focus.depthOfFieldUm);
  }

  /** Focus is measured again at a place just passed: there is no way to it worth counting, nor a whole frame. */
  private checkFocus(): void {
    if (!this.drift) return;
    this.seconds += searchSeconds(checkCost(this.request.focus), this.timing);
    const atMs = 1000 * this.seconds;
    const { offsetUm } = predictDrift(this.drift, atMs);
    this.drift = addDriftCheck(this.drift, { atMs, offsetUm, errorUm: CHECK_ERROR_SHARE * this.request.focus.depthOfFieldUm }, Infinity).state;
  }
}
