import { inscribedCircle } from '../geometry/inscribedCircle.ts';
import type { Polygon } from '../geometry/polygon.ts';
import { shortestTour } from '../tour/shortestTour.ts';
import type { StagePoint } from '../units/index.ts';
import { travelSeconds } from './travel.ts';
import type { TravelTiming } from './travel.ts';

/**
 * The order of chips that takes the least time to go from middle to middle, as places in the list; the order of the list where no other
 * takes less.
 * @param from where the stage stands before; `undefined` when that is not known
 */
export function chipOrder(outlinesUm: readonly Polygon<'stage'>[], from: StagePoint | undefined, timing: TravelTiming): readonly number[] {
  const places = [...(from ? [from] : []), ...outlinesUm.map((outline): StagePoint => inscribedCircle(outline).centreUm)];
  // The two ways between places differ by a take-up of the backlash, which no order of chips can save.
  const costOf = (a: number, b: number): number => {
    const [one, other] = [places[a], places[b]];
    return one && other ? (travelSeconds(one, other, timing) + travelSeconds(other, one, timing)) / 2 : 0;
  };
  const lengthOf = (order: readonly number[]): number => order.slice(1).reduce((sum, place, i) => sum + costOf(order[i] ?? place, place), 0);
  const listed = [...places.keys()];
  const best = shortestTour(places.length, costOf, from ? { start: 0 } : {});
  // An open tour may as well be run backwards: the one that begins nearer to the head of the list.
  const either = !from && (best[0] ?? 0) > (best[best.length - 1] ?? 0) ? [...best].reverse() : best;
  const order = lengthOf(either) < lengthOf(listed) - 1e-9 ? either : listed;
  return from ? order.slice(1).map((place) => place - 1) : order;
}
