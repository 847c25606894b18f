import { travelSeconds, type TravelTiming } from '../plan/travel.ts';
import type { PlannedChip } from '../plan/types.ts';
import type { TourPlace } from './choose.ts';

/** Times the ways between places for `closeUpsInBudget`: a long way over one chip is gone low, as the scan is; to another one the objective goes up. */
export function closeUpTravel(chips: readonly Pick<PlannedChip, 'name' | 'outlineUm'>[], timing: TravelTiming): (from: TourPlace, to: TourPlace) => number {
  const edges = new Map(chips.map(({ name, outlineUm }) => [name, outlineUm] as const));
  return (from, to) => travelSeconds(from.atUm, to.atUm, timing, from.chip === to.chip ? edges.get(to.chip ?? '') : undefined);
}
