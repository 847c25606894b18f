import { distanceUm, type StagePoint } from '../../planner/units/index.ts';
import { randomStream } from '../random.ts';
import { drawBlemishes, placeOn, ruledLines } from './blemishes.ts';
import { drawFlake } from './flakes.ts';
import { rectangle } from './shapes.ts';
import type { ChipRecipe, Tray, TrueFlake, World, WorldChip } from './types.ts';

/** Flakes and dirt keep this far from the chip's edge. */
const RIM_UM = 60;
/** Clear oxide between two flakes. */
const GAP_UM = 6;
const TRIES_PER_FLAKE = 30;

/** Scatters flakes so that no two touch; where a chip is full, fewer are placed. */
function scatterFlakes(seed: number, recipe: ChipRecipe, areaMm2: number): readonly TrueFlake[] {
  const placed: { readonly at: StagePoint; readonly reachUm: number; readonly flake: TrueFlake }[] = [];
  const wanted = Math.round(recipe.flakesPerMm2 * areaMm2);
  for (let index = 0; index < wanted; index++) {
    const random = randomStream(seed, `${recipe.name}/${index}`, 'flake');
    for (let attempt = 0; attempt < TRIES_PER_FLAKE; attempt++) {
      const at = placeOn(random, recipe, RIM_UM + recipe.flakeRadiusUm[1]);
      const drawn = drawFlake(random, recipe, at);
      if (placed.some((other) => distanceUm(other.at, at) < other.reachUm + drawn.reachUm + GAP_UM)) continue;
      placed.push({ at, ...drawn });
      break;
    }
  }
  return placed.map(({ flake }) => flake);
}

function makeChip(seed: number, recipe: ChipRecipe): WorldChip {
  const { name, centreUm, widthUm, heightUm, angleDeg, surface } = recipe;
  const areaMm2 = (widthUm * heightUm) / 1e6;
  const random = randomStream(seed, name, 'chip');
  const oxideNm = recipe.nominalOxideNm + random.between(-4, 4);
  const flakes = scatterFlakes(seed, recipe, areaMm2);
  const dirt = randomStream(seed, name, 'dirt');
  const blemishes = [...ruledLines(recipe), ...drawBlemishes(dirt, recipe.dirt, areaMm2, flakes, () => placeOn(dirt, recipe, RIM_UM))];
  const outlineUm = rectangle(centreUm, widthUm, heightUm, (angleDeg * Math.PI) / 180);
  return { name, centreUm, widthUm, heightUm, angleDeg, outlineUm, oxideNm, surface, flakes, blemishes };
}

/** The truth that a seed makes of a tray; the same for the same seed, everywhere. */
export function makeWorld(seed: number, tray: Tray): World {
  return { seed, chips: tray.chips.map((recipe) => makeChip(seed, recipe)) };
}
