import type { BookContext } from './context.ts';
import type { RankParts } from './shape/types.ts';
import type { Terrace } from './types.ts';
import { seeksThickness, wantedShare } from './wanted.ts';

/** Layers by which a flake's rank falls to a third: thinner is rarer. */
const LAYERS_SCALE = 3;
/** Size at which a flake is worth two thirds of a very large one, um. */
const SIZE_SCALE_UM = 12;
/** What a flake too small for use keeps of its rank, and the least that one large enough has: the former stand below all of the latter. */
const TOO_SMALL = 1e-4;
const LEAST_RANK = 100 * TOO_SMALL;

/**
 * What a flake's rank is made of: how large the terrace that counts is, how thin, how certain its layer number, and how clean. Where a
 * thickness in nm is looked for, thin is no better than thick, and certain is that it lies in the range.
 * @param usable the terrace that counts
 * @param cleanliness share of it that is clean; 1 before anything is known of its neighbours
 */
export function rankParts(usable: Terrace, context: BookContext, cleanliness = 1): RankParts {
  const { layers, probability } = usable.call;
  const byThickness = seeksThickness(context);
  const thin = layers === null ? 0 : Math.exp(-(layers - 1) / LAYERS_SCALE);
  return {
    size: 1 - Math.exp(-usable.inscribedUm / SIZE_SCALE_UM),
    layers: byThickness ? 1 : thin,
    probability: byThickness ? wantedShare(usable.call, context) : probability,
    cleanliness,
    ...(usable.inscribedUm < context.leastUsableUm ? { enough: TOO_SMALL } : {}),
  };
}

/**
 * How much a person will want to see a flake, 0 to 100: large, thin, certain and clean come first. The product of the shares, so that a
 * failing in one is not bought off by another; one that is too small for use stands below every one that is not.
 */
export function rankOf(parts: RankParts): number {
  const rank = 100 * parts.layers * parts.size * parts.probability * parts.cleanliness;
  return parts.enough === undefined ? Math.max(LEAST_RANK, rank) : parts.enough * rank;
}
