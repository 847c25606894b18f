import type { Flake } from '../../planner/flakes/types.ts';
import { distanceUm } from '../../planner/units/index.ts';
import type { NightStory } from './story.ts';

/** Two records of one flake lie this near to each other: three times the stage's repeatability, far less than a flake's distance to the next. */
const SAME_FLAKE_UM = 5;
/** Terraces of fewer pixels across than seven (the nights' frames are coarse), and readings farther from the layer curve (in standard errors), are not sure. */
const LEAST_USABLE_UM = 8;
const SURELY_ON_CURVE = 3;
/** A terrace smaller than this (eight pixels) may fall below what is sure in the next night, and a larger one beside it gives the flake its number then. */
const LEAST_SETTLED_UM = 9;

const nameOf = ({ chip, layers, centreUm, verdict }: Flake): string => `${chip}: ${layers ?? 'thick'} layers at ${centreUm.xUm.toFixed(0)}, ${centreUm.yUm.toFixed(0)} (${verdict})`;

/**
 * Whether a reading is sure: flagged, of a size that is asked for, its terraces well on the layer curve. A night with faults looks at some
 * tiles later or in another focus; what lies at the edge of what can be told may then be read otherwise, but must be there all the same, once.
 */
export function isSure({ verdict, terraces, layers, usableUm }: Flake): boolean {
  return verdict === 'flagged' && usableUm >= LEAST_USABLE_UM && terraces.every(({ call }) => call.layers !== layers || (call.probability > 0.95 && call.misfit < SURELY_ON_CURVE));
}

const isNear = (a: Flake, b: Flake): boolean => a.chip === b.chip && distanceUm(a.centreUm, b.centreUm) < SAME_FLAKE_UM;

/** Flakes of `ours` that have no partner of their own in `theirs`: near by, and alike. */
function unmatched(ours: readonly Flake[], theirs: readonly Flake[], isAlike: (our: Flake, their: Flake) => boolean): readonly Flake[] {
  const free = [...theirs];
  return ours.filter((flake) => {
    const at = free.findIndex((other) => isNear(other, flake) && isAlike(flake, other));
    if (at >= 0) free.splice(at, 1);
    return at < 0;
  });
}

/** Sure, and read so in every fault-free night: few flakes hold a ladder only loosely, and its rungs may be taken for one another. */
function isSettled(flake: Flake, twins: NightStory['twinFlakes']): boolean {
  return twins.every((flakes) => flakes.some((other) => isNear(other, flake) && isSure(other) && other.usableUm >= LEAST_SETTLED_UM && other.layers === flake.layers));
}

/**
 * Every flake that all fault-free nights have, sure in the first, is found, once, where its tiles were all measured; with the same number
 * where that is settled. None is doubled; none is new on a chip that was measured whole.
 */
export function flakeProblems({ flakes, twinFlakes, tiles, planned }: NightStory): readonly string[] {
  const measured = new Set(tiles.filter(({ outcome, reason }) => outcome === 'done' && reason === undefined).map(({ tile }) => tile));
  const whole = new Set(planned.map(({ chip }) => chip));
  for (const { tile, chip } of planned) if (!measured.has(tile)) whole.delete(chip);
  const [first = [], ...others] = twinFlakes;
  const wanted = first.filter((flake) => isSure(flake) && flake.tiles.every((tile) => measured.has(tile)) && others.every((flakes) => flakes.some((other) => isNear(other, flake))));
  const isAlike = (twin: Flake, our: Flake): boolean => !isSure(our) || our.layers === twin.layers || !isSettled(twin, twinFlakes);
  const sure = flakes.filter(isSure);
  const doubled = sure.filter((flake, n) => sure.some((other, m) => m < n && isNear(flake, other)));
  return [
    ...unmatched(wanted, flakes, isAlike).map((flake) => `lost flake: ${nameOf(flake)}, tiles ${flake.tiles.join(' ')}`),
    ...doubled.map((flake) => `doubled flake: ${nameOf(flake)}`),
    ...sure.filter((flake) => whole.has(flake.chip) && !twinFlakes.flat().some((other) => isNear(other, flake))).map((flake) => `new flake: ${nameOf(flake)}, tiles ${flake.tiles.join(' ')}`),
  ];
}
