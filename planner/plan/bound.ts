import { distanceUm } from '../units/index.ts';
import type { StagePoint } from '../units/index.ts';
import { axisSeconds } from './kinematics.ts';
import { focusMoveSeconds } from './travel.ts';
import type { FocusWork, PlannedChip, StageTiming } from './types.ts';

/**
 * The least time in which this instrument can take these tiles, in s, whatever the route: every tile but the first of its chip reached
 * from the tile that is nearest to it, the longer of both settlings, the exposure, and the focus exposures that the policy requires, each
 * after its step of the focus drive. Nothing else: no turn, no backlash, no readout, no way to a chip or between focus points.
 * @param fieldUm the shorter side of a frame: neighbouring tiles lie within it
 */
export function boundSeconds(chips: readonly PlannedChip[], fieldUm: number, timing: StageTiming, work: FocusWork): number {
  const exposureS = timing.exposureMs / 1000;
  const tileS = Math.max(timing.settleMs, timing.focusSettleMs) / 1000 + exposureS;
  const focusS = focusMoveSeconds(work.stepUm, timing) + timing.focusSettleMs / 1000 + exposureS;
  return chips.reduce((sum, { tiles, focusPointsUm }) => {
    const exposures = focusPointsUm.length === 0 ? 0 : work.firstExposures + (focusPointsUm.length - 1) * work.laterExposures;
    const steps = nearestDistancesUm(tiles.map((tile) => tile.centreUm), fieldUm).map((step) => axisSeconds(step, timing.maxSpeedUmPerS, timing.accelerationUmPerS2, timing.jerkUmPerS3));
    return sum + steps.slice(1).reduce((a, b) => a + b, 0) + tiles.length * tileS + exposures * focusS;
  }, 0);
}

/** For each place the distance to the nearest other one; 0 where none lies within a cell's side or two. */
function nearestDistancesUm(places: readonly StagePoint[], cellUm: number): readonly number[] {
  const cells = new Map<string, StagePoint[]>();
  const cellOf = ({ xUm, yUm }: StagePoint): readonly [number, number] => [Math.floor(xUm / cellUm), Math.floor(yUm / cellUm)];
  for (const place of places) {
    const key = cellOf(place).join(' ');
    const cell = cells.get(key);
    if (cell) cell.push(place);
    else cells.set(key, [place]);
  }
  return places.map((place) => {
    const [column, row] = cellOf(place);
    let nearest = Infinity;
    for (let dc = -1; dc <= 1; dc += 1) {
      for (let dr = -1; dr <= 1; dr += 1) {
        for (const other of cells.get(`${column + dc} ${row + dr}`) ?? []) if (other !== place) nearest = Math.min(nearest, distanceUm(other, place));
      }
    }
    return Number.isFinite(nearest) ? nearest : 0;
  });
}
