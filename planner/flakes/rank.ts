import type { RankParts } from './shape/types.ts';
import type { Terrace } from './types.ts';

/** Layers by which a flake's rank falls to a third: thinner is rarer. */
const LAYERS_SCALE = 3;
/** Size at which a flake is worth two thirds of a very large one, um. */
const SIZE_SCALE_UM = 12;

/**
 * What a flake's rank is made of: how large the terrace that counts is, how thin, how certain its layer number, and how clean.
 * @param usable the terrace that counts
 * @param cleanliness share of it that is clean; 1 before anything is known of its neighbours
 */
export function rankParts(usable: Terrace, cleanliness = 1): RankParts {
  const { layers, probability } = usable.call;
  return {
    size: 1 - Math.exp(-usable.inscribedUm / SIZE_SCALE_UM),
    layers: layers === null ? 0 : Math.exp(-(layers - 1) / LAYERS_SCALE),
    probability,
    cleanliness,
  };
}

/**
 * How much a person will want to see a flake, 0 to 100: large, thin, certain and clean come first. The product of the shares, so that a
 * failing in one is not bought off by another.
 */
export function rankOf(parts: RankParts): number {
  return 100 * parts.layers * parts.size * parts.probability * parts.cleanliness;
}
