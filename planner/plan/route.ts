import type { StagePoint } from '../units/index.ts';
import { travelSeconds } from './travel.ts';
import type { TravelTiming } from './travel.ts';
import type { Place } from './tiles.ts';

/** The ways to run through strips: which end first, which way along the first strip, and whether each strip turns round. */
interface Pattern {
  readonly lastStripFirst: boolean;
  readonly backwards: boolean;
  readonly serpentine: boolean;
}

const BOTH = [false, true] as const;

/** With a long backlash, coming back empty can cost less than taking it up at each tile of every other strip. */
const PATTERNS: readonly Pattern[] = [true, false].flatMap((serpentine) =>
  BOTH.flatMap((lastStripFirst) => BOTH.map((backwards) => ({ serpentine, lastStripFirst, backwards }))),
);

/**
 * The order in which to take the tiles: of all serpentines (and, where the stage's low travel is known, one-way combs) over the given
 * layouts the one that takes the least time, the way from where the stage comes from included.
 * @param layouts sets of strips, each of which covers the same areas
 * @param from where the stage stands before; `undefined` when that is not known
 */
export function fastestRoute(layouts: readonly (readonly (readonly Place[])[])[], from: StagePoint | undefined, timing: TravelTiming): readonly Place[] {
  let best: readonly Place[] = [];
  let bestSeconds = Infinity;
  for (const strips of layouts) {
    for (const pattern of PATTERNS) {
      // Without knowing when the objective must be raised, long ways back empty are not to be had.
      if (!pattern.serpentine && !timing.lowTravel) continue;
      const route = runThrough(strips, pattern);
      const seconds = routeSeconds(route, from, timing) + route.length * timing.perTileS;
      if (seconds < bestSeconds) [best, bestSeconds] = [route, seconds];
    }
  }
  return best;
}

function runThrough(strips: readonly (readonly Place[])[], pattern: Pattern): readonly Place[] {
  const ordered = pattern.lastStripFirst ? [...strips].reverse() : strips;
  return ordered.flatMap((strip, i) => {
    const turned = pattern.serpentine && i % 2 === 1;
    return pattern.backwards !== turned ? [...strip].reverse() : strip;
  });
}

/** Time of all moves of a route, in s, backlash take-up included, without settling and exposing. */
function routeSeconds(route: readonly Place[], from: StagePoint | undefined, timing: TravelTiming): number {
  let seconds = 0;
  let at = from;
  for (const place of route) {
    if (at) seconds += travelSeconds(at, place.centreUm, timing);
    at = place.centreUm;
  }
  return seconds;
}
