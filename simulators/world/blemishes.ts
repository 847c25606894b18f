import type { StagePoint } from '../../planner/units/index.ts';
import type { Colour } from '../optics/films.ts';
import type { Random } from '../random.ts';
import { boxAround, rectangle, turnedBy } from './shapes.ts';
import type { Blemish, ChipRecipe, Dirt, TrueFlake } from './types.ts';

type Blob = Extract<Blemish, { kind: 'blob' }>;

function blob(centreUm: StagePoint, change: Omit<Blob, 'kind' | 'box' | 'centreUm'>): Blob {
  const reachUm = change.radiusUm * (1 + 2 * change.lobe) + change.softUm;
  return { kind: 'blob', centreUm, box: boxAround([centreUm], reachUm), ...change };
}

/** The same tone in all channels, with a cast. */
function tone(random: Random, level: number, cast: number): Colour {
  return [level + random.between(-cast, cast), level + random.between(-cast, cast), level + random.between(-cast, cast)];
}

/** Dried solvent: a wide, faint patch or ring without a sharp edge. */
function driedFilm(random: Random, at: StagePoint): readonly Blemish[] {
  const isRing = random.next() < 0.35;
  const radiusUm = random.between(20, isRing ? 60 : 110);
  const softUm = radiusUm * random.between(0.25, 0.5);
  const shape = { radiusUm, softUm, lobe: random.between(0, 0.18), phase: random.between(0, 6), hollow: isRing ? 0.8 : 0 };
  return [blob(at, { ...shape, factors: tone(random, random.between(0.88, 0.97), 0.03) })];
}

/** Lumps of tape glue: a few blobs run together, brownish, thick enough to show colours. */
function tapeResidue(random: Random, at: StagePoint): readonly Blemish[] {
  const sizeUm = random.between(4, 18);
  const factors: Colour = [random.between(0.6, 1.15), random.between(0.45, 0.9), random.between(0.3, 0.75)];
  return Array.from({ length: 2 + random.below(5) }, () => {
    const centre = { xUm: at.xUm + random.normal() * sizeUm, yUm: at.yUm + random.normal() * sizeUm };
    const radiusUm = sizeUm * random.between(0.25, 0.8);
    return blob(centre, { radiusUm, softUm: random.between(1.5, 4), lobe: random.between(0, 0.2), phase: random.between(0, 6), hollow: 0, factors });
  });
}

/** A bubble under a flake, or a droplet on the oxide: a dark rim about a brighter middle. */
function bubble(random: Random, at: StagePoint): readonly Blemish[] {
  const radiusUm = random.between(0.9, 3.5);
  const shape = { radiusUm, lobe: 0.03, phase: random.between(0, 6) };
  return [
    blob(at, { ...shape, softUm: 0.7, hollow: 0, factors: tone(random, 0.66, 0.08) }),
    blob(at, { ...shape, radiusUm: radiusUm * 0.55, softUm: 0.6, hollow: 0, factors: tone(random, 1.55, 0.2) }),
  ];
}

function speckOfDust(random: Random, at: StagePoint): readonly Blemish[] {
  const radiusUm = 0.8 - 1.4 * Math.log(1 - random.next());
  return [blob(at, { radiusUm: Math.min(9, radiusUm), softUm: 1.2, lobe: random.between(0, 0.15), phase: random.between(0, 6), hollow: 0, factors: tone(random, 0.3, 0.12) })];
}

function scratch(random: Random, at: StagePoint): readonly Blemish[] {
  const angle = random.between(0, Math.PI);
  const outlineUm = rectangle(at, random.between(80, 700), random.between(0.7, 2.4), angle);
  const level = random.next() < 0.5 ? random.between(0.5, 0.8) : random.between(1.2, 1.6);
  return [{ kind: 'stripe', box: boxAround(outlineUm), outlineUm, factors: tone(random, level, 0.05) }];
}

/** How much of the light comes back from a micrometer's lines. */
const LINE_FACTORS: Colour = [0.3, 0.3, 0.3];

/** The lines of a stage micrometer; none where nothing is ruled. */
export function ruledLines({ ruling, centreUm, angleDeg }: ChipRecipe): readonly Blemish[] {
  if (!ruling) return [];
  const angle = (angleDeg * Math.PI) / 180;
  return Array.from({ length: ruling.lines }, (_, n) => {
    const at = turnedBy(centreUm, angle, (n - (ruling.lines - 1) / 2) * ruling.pitchUm, 0);
    const outlineUm = rectangle(at, ruling.lineUm, ruling.lengthUm, angle);
    return { kind: 'stripe', box: boxAround(outlineUm), outlineUm, factors: LINE_FACTORS };
  });
}

/** A place somewhere on a flake. */
function onFlake(random: Random, flake: TrueFlake): StagePoint | undefined {
  const corners = flake.terraces[0]?.outlineUm ?? [];
  const a = corners[random.below(corners.length)];
  const b = corners[random.below(corners.length)];
  if (!a || !b) return undefined;
  const share = random.between(0.2, 0.8);
  return { xUm: a.xUm + (b.xUm - a.xUm) * share, yUm: a.yUm + (b.yUm - a.yUm) * share };
}

/** All dirt of one chip; `place` draws a place on it. Half of the bubbles sit under flakes. */
export function drawBlemishes(random: Random, dirt: Dirt, areaMm2: number, flakes: readonly TrueFlake[], place: () => StagePoint): readonly Blemish[] {
  const many = (perMm2: number, draw: (at: StagePoint) => readonly Blemish[], where: () => StagePoint = place) =>
    Array.from({ length: Math.round(perMm2 * areaMm2) }, () => draw(where())).flat();
  const underFlakes = () => {
    const flake = flakes[random.below(flakes.length)];
    return (flake && random.next() < 0.5 ? onFlake(random, flake) : undefined) ?? place();
  };
  return [
    ...many(dirt.films, (at) => driedFilm(random, at)),
    ...many(dirt.residue, (at) => tapeResidue(random, at)),
    ...many(dirt.bubbles, (at) => bubble(random, at), underFlakes),
    ...many(dirt.scratches, (at) => scratch(random, at)),
    ...many(dirt.dust, (at) => speckOfDust(random, at)),
  ];
}

/** A place on a chip, at least `marginUm` from its edges. */
export function placeOn(random: Random, chip: { centreUm: StagePoint; widthUm: number; heightUm: number; angleDeg: number }, marginUm: number): StagePoint {
  const x = (random.next() - 0.5) * (chip.widthUm - 2 * marginUm);
  const y = (random.next() - 0.5) * (chip.heightUm - 2 * marginUm);
  return turnedBy(chip.centreUm, (chip.angleDeg * Math.PI) / 180, x, y);
}
