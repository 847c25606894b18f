import { plannedChecks } from '../focus/drift.ts';
import type { DriftState } from '../focus/drift.ts';
import { checkCost, focusExposures, searchSeconds } from '../focus/exposures.ts';
import type { SearchCost } from '../focus/exposures.ts';
import { distanceUm } from '../units/index.ts';
import type { StagePoint } from '../units/index.ts';
import { repeatedPoint } from './focusPoints.ts';
import { axisSeconds } from './kinematics.ts';
import type { FocusPlan, PlannedChip, StageTiming } from './types.ts';

/**
 * The least time in which this instrument can take these tiles, in s, whatever the route: every tile but the first of its chip reached
 * from the tile that is nearest to it, the longer of both settlings, the exposure, and the focus exposures that the policy requires, with
 * the focus drive's ways between them, the readout of those that decide where it goes next, and the straight ways from point to point and on to
 * the first tile. Nothing else: no turn, no backlash, no stop on a way, no other readout, no way to a chip, no lowering and raising of the
 * objective, no frame at several heights.
 * @param fieldUm the shorter side of a frame: neighbouring tiles lie within it
 */
export function boundSeconds(chips: readonly PlannedChip[], fieldUm: number, timing: StageTiming, focus: FocusPlan): number {
  const tileS = (Math.max(timing.settleMs, timing.focusSettleMs) + timing.exposureMs) / 1000;
  const stepS = (stepUm: number): number => axisSeconds(stepUm, timing.maxSpeedUmPerS, timing.accelerationUmPerS2, timing.jerkUmPerS3);
  const checkS = leastSearchSeconds(checkCost(focus), timing);
  let seconds = 0;
  let stand: DriftState | undefined;
  for (const { tiles, focusPointsUm } of chips) {
    const mappingS = focusExposures({ ...focus, pointsUm: focusPointsUm }).searches.reduce((sum, search) => sum + leastSearchSeconds(search, timing), 0);
    const steps = nearestDistancesUm(tiles.map((tile) => tile.centreUm), fieldUm).slice(1);
    const takingS = steps.reduce((sum, stepUm) => sum + stepS(stepUm), 0) + tiles.length * tileS;
    const watched = plannedChecks(1000 * takingS, focus.depthOfFieldUm, 0, stand);
    stand = watched.state;
    seconds += mappingS + focusWaysSeconds(focusPointsUm, tiles[0]?.centreUm, timing) + takingS + (focusPointsUm.length > 0 ? watched.checks * checkS : 0);
  }
  return seconds;
}

/** The straight ways from focus point to focus point, to the one that is measured again, and to the first tile, at the stage's top speed. */
export function focusWaysSeconds(pointsUm: readonly StagePoint[], firstTileUm: StagePoint | undefined, timing: StageTiming): number {
  const again = pointsUm[repeatedPoint(pointsUm.length)];
  const places = [...pointsUm, ...(again ? [again] : []), ...(again && firstTileUm ? [firstTileUm] : [])];
  const speed = Math.max(timing.maxSpeedUmPerS, timing.highSpeedUmPerS);
  return places.slice(1).reduce((sum, place, i) => sum + axisSeconds(distanceUm(places[i] ?? place, place), speed, timing.accelerationUmPerS2, timing.jerkUmPerS3), 0);
}

/** A focus search and its whole frames, all heights reached from below; the last of the frames is read out on the way on. */
function leastSearchSeconds(search: SearchCost, timing: StageTiming): number {
  return searchSeconds(search, timing) - (search.frames > 0 ? timing.readoutMs / 1000 : 0);
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
