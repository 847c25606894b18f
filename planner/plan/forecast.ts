import type { StagePoint } from '../units/index.ts';
import { focusExposures, searchSeconds } from '../focus/exposures.ts';
import { frameSeconds, standSeconds, tileSeconds } from './stays.ts';
import { focusMoveSeconds, travelSeconds } from './travel.ts';
import type { TravelTiming } from './travel.ts';
import type { PlannedChip, PlanRequest } from './types.ts';

export interface Forecast {
  readonly seconds: number;
  readonly bytes: number;
}

/** Frames without light, taken before the first move. */
export const DARK_FRAMES = 4;

/** What the route and the forecast need to know to time the ways between places. */
export function travelTiming(request: Pick<PlanRequest, 'timing' | 'lowTravel'>): TravelTiming {
  const timing = { ...request.timing, perTileS: tileSeconds(request.timing) };
  return request.lowTravel ? { ...timing, lowTravel: request.lowTravel } : timing;
}

/**
 * How long the scan takes and how much it stores: dark frames, then chip after chip its focus points and its tiles, the objective up at
 * the end. The way to the first focus point counts only where it is known from where.
 */
export function forecast(chips: readonly PlannedChip[], request: PlanRequest): Forecast {
  const { timing } = request;
  const travel = travelTiming(request);
  const raiseS = focusMoveSeconds(request.lowTravel?.raiseUm ?? 0, timing);
  let seconds = DARK_FRAMES * frameSeconds(timing) + 2 * raiseS;
  let at = request.fromUm;
  // The objective is up at first: on the way to the first place it is only lowered, which is counted above.
  let isUp = true;
  const goTo = (place: StagePoint, over: readonly StagePoint[], staysS: number, leastS = 0): void => {
    const wayS = at ? travelSeconds(at, place, isUp ? { ...travel, lowTravel: { maxUm: 0, raiseUm: 0 } } : travel, isUp ? undefined : over) : 0;
    isUp = false;
    seconds += Math.max(leastS, wayS) + staysS;
    at = place;
  };
  for (const chip of chips) {
    const searches = focusExposures({ ...request.focus, pointsUm: chip.focusPointsUm }).searches;
    searches.forEach((search, i) => goTo(chip.focusPointsUm[i] ?? { xUm: NaN, yUm: NaN }, chip.outlineUm, timing.settleMs / 1000 + searchSeconds(search, timing)));
    const waits = request.chips.find(({ name }) => name === chip.name)?.waitsForFrame ?? false;
    const readoutS = timing.readoutMs / 1000;
    for (const tile of chip.tiles) goTo(tile.centreUm, chip.outlineUm, travel.perTileS + (waits ? readoutS : 0), waits ? 0 : readoutS - standSeconds(timing));
    // Nothing else begins before a chip's last frame is in.
    if (!waits && chip.tiles.length > 0) seconds += readoutS;
  }
  const tiles = chips.reduce((sum, chip) => sum + chip.tiles.length, 0);
  return { seconds, bytes: tiles * timing.bytesPerTile };
}
