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
  let best: { readonly seconds: number; readonly strips: readonly (readonly Place[])[]; readonly pattern: Pattern } | undefined;
  for (const strips of layouts) {
    const timed = strips.map((strip) => timedStrip(strip, timing));
    const staysS = strips.reduce((sum, strip) => sum + strip.length, 0) * timing.perTileS;
    for (const pattern of PATTERNS) {
      // Without knowing when the objective must be raised, long ways back empty are not to be had.
      if (!pattern.serpentine && !timing.lowTravel) continue;
      const seconds = routeSeconds(timed, pattern, from, timing) + staysS;
      if (!best || seconds < best.seconds) best = { seconds, strips, pattern };
    }
  }
  return best ? runThrough(best.strips, best.pattern) : [];
}

/** One strip with the time that it takes to run through it either way. */
interface TimedStrip {
  readonly first: StagePoint;
  readonly last: StagePoint;
  readonly forwardS: number;
  readonly backwardS: number;
}

function timedStrip(strip: readonly Place[], timing: TravelTiming): TimedStrip {
  let forwardS = 0;
  let backwardS = 0;
  for (let i = 1; i < strip.length; i += 1) {
    const [a, b] = [strip[i - 1], strip[i]];
    if (!a || !b) continue;
    forwardS += travelSeconds(a.centreUm, b.centreUm, timing);
    backwardS += travelSeconds(b.centreUm, a.centreUm, timing);
  }
  const nowhere = { xUm: 0, yUm: 0 };
  return { first: strip[0]?.centreUm ?? nowhere, last: strip[strip.length - 1]?.centreUm ?? nowhere, forwardS, backwardS };
}

function isBackwards(pattern: Pattern, i: number): boolean {
  return pattern.backwards !== (pattern.serpentine && i % 2 === 1);
}

function runThrough(strips: readonly (readonly Place[])[], pattern: Pattern): readonly Place[] {
  const ordered = pattern.lastStripFirst ? [...strips].reverse() : strips;
  return ordered.flatMap((strip, i) => (isBackwards(pattern, i) ? [...strip].reverse() : strip));
}

/** Time of all moves of a route, in s, backlash take-up included, without settling and exposing. */
function routeSeconds(strips: readonly TimedStrip[], pattern: Pattern, from: StagePoint | undefined, timing: TravelTiming): number {
  let seconds = 0;
  let at = from;
  for (let i = 0; i < strips.length; i += 1) {
    const strip = strips[pattern.lastStripFirst ? strips.length - 1 - i : i];
    if (!strip) continue;
    const backwards = isBackwards(pattern, i);
    if (at) seconds += travelSeconds(at, backwards ? strip.last : strip.first, timing);
    seconds += backwards ? strip.backwardS : strip.forwardS;
    at = backwards ? strip.first : strip.last;
  }
  return seconds;
}
