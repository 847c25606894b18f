import type { Terrace } from './types.ts';

/** Layers by which a flake's rank falls to a third: thinner is rarer. */
const LAYERS_SCALE = 3;
/** Size at which a flake is worth two thirds of a very large one, um. */
const SIZE_SCALE_UM = 12;

/**
 * How much a person will want to see a flake, 0 to 100: large, thin and certain come first. The product of three shares, so that a
 * failing in one is not bought off by another.
 * @param usable the terrace that counts
 */
export function rankOf(usable: Terrace): number {
  const { layers, probability } = usable.call;
  if (layers === null) return 0;
  const thin = Math.exp(-(layers - 1) / LAYERS_SCALE);
  const large = 1 - Math.exp(-usable.inscribedUm / SIZE_SCALE_UM);
  return 100 * thin * large * probability;
}
