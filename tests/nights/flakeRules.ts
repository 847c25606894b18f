import type { Flake } from '../../planner/flakes/types.ts';
import { distanceUm } from '../../planner/units/index.ts';
import type { NightStory } from './story.ts';

/** Two records of one flake lie this near to each other: three times the stage's repeatability, far less than a flake's distance to the next. */
const SAME_FLAKE_UM = 5;
/** Smaller terraces than the run sheet asks for, and readings farther from the layer curve (in standard errors), are not sure. */
const LEAST_USABLE_UM = 4;
const SURELY_ON_CURVE = 3;

const nameOf = ({ chip, layers, centreUm, verdict }: Flake): string => `${chip}: ${layers ?? 'thick'} layers at ${centreUm.xUm.toFixed(0)}, ${centreUm.yUm.toFixed(0)} (${verdict})`;

/**
 * Whether a reading is sure: flagged, of a size that is asked for, its terraces well on the layer curve. A night with faults looks at some
 * tiles later or in another focus; what lies at the edge of what can be told may then be read otherwise, but must be there all the same, once.
 */
export function isSure({ verdict, terraces, layers, usableUm }: Flake): boolean {
  return verdict === 'flagged' && usableUm >= LEAST_USABLE_UM && terraces.every(({ call }) => call.layers !== layers || (call.probability > 0.95 && call.misfit < SURELY_ON_CURVE));
}

/** Flakes of `ours` that have no partner of their own in `theirs`: same chip, near by, and read alike where both are sure. */
function unmatched(ours: readonly Flake[], theirs: readonly Flake[]): readonly Flake[] {
  const free = [...theirs];
  return ours.filter((flake) => {
    const isLike = (other: Flake): boolean => !isSure(flake) || !isSure(other) || other.layers === flake.layers;
    const at = free.findIndex((other) => other.chip === flake.chip && distanceUm(other.centreUm, flake.centreUm) < SAME_FLAKE_UM && isLike(other));
    if (at >= 0) free.splice(at, 1);
    return at < 0;
  });
}

/** Every sure flake of the fault-free night whose tiles were all measured is found, once; none is doubled; none is new on a chip measured whole. */
export function flakeProblems({ flakes, twinFlakes, tiles, planned }: NightStory): readonly string[] {
  const measured = new Set(tiles.filter(({ outcome, reason }) => outcome === 'done' && reason === undefined).map(({ tile }) => tile));
  const whole = new Set(planned.map(({ chip }) => chip));
  for (const { tile, chip } of planned) if (!measured.has(tile)) whole.delete(chip);
  const wanted = twinFlakes.filter((flake) => isSure(flake) && flake.tiles.every((tile) => measured.has(tile)));
  const sure = flakes.filter(isSure);
  const doubled = sure.filter((flake, n) => sure.some((other, m) => m < n && other.chip === flake.chip && distanceUm(flake.centreUm, other.centreUm) < SAME_FLAKE_UM));
  return [
    ...unmatched(wanted, flakes).map((flake) => `lost flake: ${nameOf(flake)}, tiles ${flake.tiles.join(' ')}`),
    ...doubled.map((flake) => `doubled flake: ${nameOf(flake)}`),
    ...unmatched(sure.filter(({ chip }) => whole.has(chip)), twinFlakes).map((flake) => `new flake: ${nameOf(flake)}, tiles ${flake.tiles.join(' ')}`),
  ];
}
