import { boundingBox } from '../geometry/polygon.ts';
import type { PlannedChip, PlanLimits, PlanRefusal } from './types.ts';

/**
 * Holds every place that the stage will go to against its limits: tile centres, focus points, a known flake, and the overshoot of the backlash take-up,
 * which may be needed at any of them (a resumed run can come from any side). One refusal per chip and limit, with the worst excess.
 */
export function auditPlan(chips: readonly Pick<PlannedChip, 'name' | 'focusPointsUm' | 'tiles'>[], limits: PlanLimits, backlashUm: number): readonly PlanRefusal[] {
  return chips.flatMap((chip) => {
    const places = [...chip.focusPointsUm, ...chip.tiles.map((tile) => tile.centreUm)];
    if (places.length === 0) return [];
    const box = boundingBox(places);
    const beyond = [
      { limit: 'xMin', byUm: limits.xMinUm - (box.xMinUm - backlashUm), limitUm: limits.xMinUm },
      { limit: 'xMax', byUm: box.xMaxUm - limits.xMaxUm, limitUm: limits.xMaxUm },
      { limit: 'yMin', byUm: limits.yMinUm - (box.yMinUm - backlashUm), limitUm: limits.yMinUm },
      { limit: 'yMax', byUm: box.yMaxUm - limits.yMaxUm, limitUm: limits.yMaxUm },
    ] as const;
    // Written so that a place that is no number is refused as well.
    return beyond.filter(({ byUm }) => !(byUm <= 0)).map((excess): PlanRefusal => ({ code: 'beyondTravel', chip: chip.name, ...excess }));
  });
}
