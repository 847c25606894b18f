import type { Flake } from '../../planner/flakes/types.ts';
import { distanceUm } from '../../planner/units/index.ts';

/** A stage repeats to 1 to 3 um: one flake in two nights lies no farther apart. */
const repeatUm = 3;

const nameOf = ({ id, verdict, layers, centreUm, usableUm }: Flake): string =>
  `${id}: ${verdict}, ${layers ?? 'thick'} layers, ${usableUm.toFixed(1)} um usable at ${centreUm.xUm.toFixed(1)}, ${centreUm.yUm.toFixed(1)}`;

/** Flakes of `ours` without a partner of their own in `theirs`: same chip and layers, within 3 um. In words, for a test's message. */
function withoutPartner(ours: readonly Flake[], theirs: readonly Flake[]): readonly string[] {
  const free = [...theirs];
  return ours.flatMap((flake) => {
    const at = free.findIndex((other) => other.chip === flake.chip && other.layers === flake.layers && distanceUm(other.centreUm, flake.centreUm) <= repeatUm);
    if (at < 0) return [nameOf(flake)];
    free.splice(at, 1);
    return [];
  });
}

/**
 * What two nights over the same chips differ in: flakes of at least the usable size that are flagged in one, and in the other missing,
 * doubled or read otherwise. What is smaller may be found or not: it lies at the edge of what can be told.
 */
export function flakeDifferences(night: readonly Flake[], reference: readonly Flake[], leastUsableUm: number) {
  const flagged = (flakes: readonly Flake[]): readonly Flake[] => flakes.filter(({ verdict }) => verdict === 'flagged');
  const wanted = (flakes: readonly Flake[]): readonly Flake[] => flagged(flakes).filter(({ usableUm }) => usableUm >= leastUsableUm);
  return { lost: withoutPartner(wanted(reference), flagged(night)), doubledOrNew: withoutPartner(wanted(night), flagged(reference)) };
}
