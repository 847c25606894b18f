import type { BookContext } from '../flakes/context.ts';
import type { Flake, Terrace } from '../flakes/types.ts';
import { seeksThickness, usableTerrace, wantedShare } from '../flakes/wanted.ts';

/** Size at which a flake is worth two thirds of a very large one, um; as in the rank. */
const SIZE_SCALE_UM = 12;
/** What the picture alone is worth where the number is certain already, against 1 for a number that is quite open. */
const PICTURE_ALONE = 0.2;

/**
 * What a close-up of a flake is worth, 0 to 1: the probability that it is wanted, times what there is to learn of its number (nothing but
 * a picture where that is certain), times its size. 0 where it is not wanted, or too small for use.
 */
export function closeUpValue(flake: Pick<Flake, 'terraces' | 'verdict'>, context: BookContext): number {
  if (flake.verdict === 'rejected') return 0;
  const counts = flake.terraces.filter((t) => t.inscribedUm >= context.leastUsableUm);
  return counts.reduce((best, t) => Math.max(best, terraceValue(t, context)), 0);
}

/** The terrace that a close-up is for: the one that counts, else the one that might. */
export function closeUpTerrace(flake: Pick<Flake, 'terraces'>, context: BookContext): Terrace | undefined {
  return usableTerrace(flake.terraces, context) ?? flake.terraces.reduce<Terrace | undefined>((best, t) => (best && terraceValue(best, context) >= terraceValue(t, context) ? best : t), undefined);
}

function terraceValue(terrace: Terrace, context: BookContext): number {
  const wanted = wantedProbability(terrace, context);
  const open = 1 - Math.min(1, terrace.call.probability);
  return wanted * (PICTURE_ALONE + (1 - PICTURE_ALONE) * open) * (1 - Math.exp(-terrace.inscribedUm / SIZE_SCALE_UM));
}

/** Probability that a terrace is looked for: of all numbers in the range, not of the likeliest one alone. */
function wantedProbability({ call }: Terrace, context: BookContext): number {
  if (seeksThickness(context)) return wantedShare(call, context);
  const inRange = call.probabilities.slice(context.layersFrom, context.layersTo + 1).reduce((sum, p) => sum + p, 0);
  return Math.min(1, inRange) * (1 - (call.stray ?? 0));
}
