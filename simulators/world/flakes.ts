import { areaUm2 } from '../../planner/geometry/polygon.ts';
import type { StagePoint } from '../../planner/units/index.ts';
import { LAYER_NM, type Film } from '../optics/films.ts';
import type { Random } from '../random.ts';
import { flakeOutline, terraceOn, turnedBy, type Corners } from './shapes.ts';
import type { ChipRecipe, LayerShare, TrueFlake, TrueTerrace } from './types.ts';

/** Terraces smaller than this are not made: no microscope at 10x would show them. */
const SMALLEST_TERRACE_UM2 = 12;
const MOST_TERRACES = 4;
/** From this many layers on graphene is graphite. */
const GRAPHITE_FROM_LAYERS = 12;

function drawLayers(random: Random, shares: readonly [LayerShare, ...LayerShare[]]): number {
  const total = shares.reduce((sum, share) => sum + share.weight, 0);
  let left = random.next() * total;
  const drawn = shares.find((share) => (left -= share.weight) < 0) ?? shares[0];
  const [low, high] = drawn.layers;
  // Even in the logarithm: thick flakes come in all thicknesses.
  return Math.round(low * (high / low) ** random.next());
}

/** The film that this many layers of the chip's material make. */
export function filmOf(material: ChipRecipe['material'], layers: number): Film {
  const isGraphite = material === 'graphene' && layers >= GRAPHITE_FROM_LAYERS;
  return { material: isGraphite ? 'graphite' : material, thicknessNm: layers * LAYER_NM[material] };
}

/** Most flakes are near the usual radius, few reach the largest: an exponential tail, cut off. */
function drawRadius(random: Random, [usualUm, largestUm]: readonly [number, number]): number {
  return Math.min(largestUm, usualUm * (0.45 - 0.75 * Math.log(1 - random.next())));
}

function stackTerraces(random: Random, recipe: ChipRecipe, base: Corners, crystalRad: number): readonly { layers: number; corners: Corners }[] {
  let layers = drawLayers(random, recipe.layerShares);
  let corners = base;
  const stack = [{ layers, corners }];
  while (stack.length < MOST_TERRACES && random.next() < 0.45) {
    corners = terraceOn(random, corners, crystalRad);
    if (corners.length < 3 || areaUm2(corners) < SMALLEST_TERRACE_UM2) break;
    layers += Math.max(1, Math.round(layers * random.between(0, 1.5)));
    stack.push({ layers, corners });
  }
  return stack;
}

/** One flake at a place of the chip, in stage um, with how far it reaches from there. */
export function drawFlake(random: Random, recipe: ChipRecipe, at: StagePoint): { readonly flake: TrueFlake; readonly reachUm: number } {
  const crystalRad = random.between(0, Math.PI / 6);
  const base = flakeOutline(random, drawRadius(random, recipe.flakeRadiusUm), crystalRad);
  const turnRad = random.between(0, 2 * Math.PI);
  const terraces = stackTerraces(random, recipe, base, crystalRad).map(
    ({ layers, corners }): TrueTerrace => ({
      layers,
      film: filmOf(recipe.material, layers),
      outlineUm: corners.map((p) => turnedBy(at, turnRad, p.xUm, p.yUm)),
    }),
  );
  return { flake: { terraces }, reachUm: Math.max(...base.map((p) => Math.hypot(p.xUm, p.yUm))) };
}
