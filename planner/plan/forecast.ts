import type { StagePoint } from '../units/index.ts';
import { travelSeconds } from './travel.ts';
import type { TravelTiming } from './travel.ts';
import type { PlannedChip, PlanRequest, StageTiming } from './types.ts';

/** Usual step of the focus drive from tile to tile: 5 mrad of tilt over a step of 0.4 mm (common practice, no source). */
const TILE_FOCUS_STEP_UM = 2;
/** Mean step of the focus drive within a focus search from coarse to fine (common practice, no source). */
const SEARCH_FOCUS_STEP_UM = 4;

export interface Forecast {
  readonly seconds: number;
  readonly bytes: number;
}

/**
 * Time at one tile once the stage has arrived, in s: the focus drive follows the focus surface, stage and focus drive settle at the same
 * time, then one exposure and its readout.
 */
export function tileSeconds(timing: StageTiming): number {
  const settleMs = Math.max(timing.settleMs, timing.focusSettleMs);
  return TILE_FOCUS_STEP_UM / timing.focusSpeedUmPerS + (settleMs + timing.exposureMs + timing.readoutMs) / 1000;
}

/** Time at one focus point once the stage has arrived, in s: the stage settles once, then every exposure follows a step of the focus drive. */
export function focusPointSeconds(timing: StageTiming, exposures: number): number {
  const perExposureS = SEARCH_FOCUS_STEP_UM / timing.focusSpeedUmPerS + (timing.focusSettleMs + timing.exposureMs + timing.readoutMs) / 1000;
  return timing.settleMs / 1000 + exposures * perExposureS;
}

/** What the route and the forecast need to know to time the ways between places. */
export function travelTiming(request: Pick<PlanRequest, 'timing' | 'lowTravel'>): TravelTiming {
  const { maxSpeedUmPerS, accelerationUmPerS2, backlashUm, focusSpeedUmPerS } = request.timing;
  const timing = { maxSpeedUmPerS, accelerationUmPerS2, backlashUm, focusSpeedUmPerS, perTileS: tileSeconds(request.timing) };
  return request.lowTravel ? { ...timing, lowTravel: request.lowTravel } : timing;
}

/**
 * How long the scan takes and how much it stores: chip after chip, first its focus points, then its tiles. The way to the first focus
 * point is not counted, since nobody knows where the stage will stand.
 */
export function forecast(chips: readonly PlannedChip[], request: Pick<PlanRequest, 'timing' | 'lowTravel' | 'exposuresPerFocusPoint'>): Forecast {
  const timing = travelTiming(request);
  const focusS = focusPointSeconds(request.timing, request.exposuresPerFocusPoint);
  let seconds = 0;
  let at: StagePoint | undefined;
  const goTo = (place: StagePoint, staysS: number) => {
    seconds += (at ? travelSeconds(at, place, timing) : 0) + staysS;
    at = place;
  };
  for (const chip of chips) {
    for (const point of chip.focusPointsUm) goTo(point, focusS);
    for (const tile of chip.tiles) goTo(tile.centreUm, timing.perTileS);
  }
  const tiles = chips.reduce((sum, chip) => sum + chip.tiles.length, 0);
  return { seconds, bytes: tiles * request.timing.bytesPerTile };
}
