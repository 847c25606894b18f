import type { ChipRecipe, Dirt, LayerShare, Tray } from './world/types.ts';

export const CLEAN: Dirt = { films: 0, residue: 0, bubbles: 0, dust: 0, scratches: 0 };
/** A chip from a tidy bench. */
export const USUAL_DIRT: Dirt = { films: 0.6, residue: 1.6, bubbles: 4, dust: 9, scratches: 0.4 };
/** A chip whose tape was too sticky and whose rinse dried on it. */
export const MUCH_DIRT: Dirt = { films: 3, residue: 12, bubbles: 16, dust: 30, scratches: 1.6 };

/** What exfoliation gives on a good day: the thinner, the rarer, made less rare here so that a short night has something to show. */
const USUAL_LAYERS: readonly [LayerShare, ...LayerShare[]] = [
  { layers: [1, 1], weight: 16 },
  { layers: [2, 2], weight: 13 },
  { layers: [3, 3], weight: 11 },
  { layers: [4, 4], weight: 7 },
  { layers: [5, 11], weight: 14 },
  { layers: [12, 200], weight: 39 },
];

const ONLY_THICK: readonly [LayerShare, ...LayerShare[]] = [{ layers: [20, 260], weight: 1 }];

const USUAL_CHIP: Omit<ChipRecipe, 'name' | 'centreUm'> = {
  widthUm: 3000,
  heightUm: 3000,
  angleDeg: 0,
  material: 'graphene',
  nominalOxideNm: 290,
  flakesPerMm2: 5.5,
  layerShares: USUAL_LAYERS,
  flakeRadiusUm: [12, 48],
  dirt: USUAL_DIRT,
  surface: { focusUm: 1000, tiltXMrad: 0, tiltYMrad: 0, bowUm: 0 },
};

/** What must be said of a chip; the rest is as usual (see USUAL_CHIP). */
export type ChipWish = Pick<ChipRecipe, 'name' | 'centreUm'> & Partial<ChipRecipe>;

/** A tray of any chips. */
export function makeTray(name: string, chips: readonly ChipWish[]): Tray {
  return { name, chips: chips.map((wish) => ({ ...USUAL_CHIP, ...wish })) };
}

/** A control sample: a clean little chip with one bilayer on it, glued beside the chips and never taken off. */
function controlSample(name: string, centreUm: ChipWish['centreUm'], focusUm: number): ChipWish {
  return {
    name,
    centreUm,
    widthUm: 420,
    heightUm: 400,
    flakesPerMm2: 6,
    layerShares: [{ layers: [2, 2], weight: 1 }],
    flakeRadiusUm: [26, 30],
    dirt: { ...CLEAN, dust: 12 },
    surface: { focusUm, tiltXMrad: 0.2, tiltYMrad: -0.1, bowUm: 0 },
  };
}

/** Three chips of about 3 x 3 mm, invented: graphene; dirt and thick graphite only; MoS2. And a control sample. */
const demo = makeTray('demo', [
  {
    name: 'N-01',
    centreUm: { xUm: 20_000, yUm: 21_000 },
    widthUm: 3000,
    heightUm: 2900,
    angleDeg: 2,
    surface: { focusUm: 1004, tiltXMrad: 0.9, tiltYMrad: -0.5, bowUm: 1.2 },
  },
  {
    name: 'N-02',
    centreUm: { xUm: 24_300, yUm: 20_900 },
    widthUm: 2900,
    heightUm: 3100,
    angleDeg: -3.5,
    flakesPerMm2: 3,
    layerShares: ONLY_THICK,
    dirt: MUCH_DIRT,
    surface: { focusUm: 993, tiltXMrad: -0.7, tiltYMrad: -0.8, bowUm: 0.8 },
  },
  {
    name: 'N-03',
    centreUm: { xUm: 28_700, yUm: 21_100 },
    widthUm: 3100,
    heightUm: 2800,
    angleDeg: 7,
    material: 'mos2',
    nominalOxideNm: 90,
    flakesPerMm2: 4,
    flakeRadiusUm: [9, 32],
    surface: { focusUm: 1009, tiltXMrad: 0.4, tiltYMrad: 1.1, bowUm: -1 },
  },
  controlSample('W-1', { xUm: 24_500, yUm: 17_500 }, 1001),
]);

/** One small chip with a few flakes: a night of a handful of tiles, for tests. */
const smallChip: ChipWish = {
  name: 'T-01',
  centreUm: { xUm: 20_000, yUm: 20_000 },
  widthUm: 900,
  heightUm: 800,
  angleDeg: 3,
  flakesPerMm2: 14,
  layerShares: [
    { layers: [1, 1], weight: 4 },
    { layers: [2, 2], weight: 3 },
    { layers: [3, 4], weight: 2 },
    { layers: [12, 120], weight: 3 },
  ],
  flakeRadiusUm: [10, 26],
  dirt: { films: 1, residue: 2, bubbles: 6, dust: 12, scratches: 1 },
  surface: { focusUm: 1003, tiltXMrad: 0.6, tiltYMrad: -0.4, bowUm: 0.3 },
};

const tiny = makeTray('tiny', [smallChip]);

/** The same beside a control sample. */
const watched = makeTray('watched', [smallChip, controlSample('W-1', { xUm: 21_500, yUm: 20_400 }, 1002)]);

/** One small chip of boron nitride of 2 to 90 nm, for tests of what is bright: thin films hardly show, thick ones outshine the oxide. */
const nitride = makeTray('nitride', [
  {
    name: 'B-01',
    centreUm: { xUm: 20_000, yUm: 20_000 },
    widthUm: 900,
    heightUm: 800,
    angleDeg: 2,
    material: 'hbn',
    nominalOxideNm: 90,
    flakesPerMm2: 16,
    layerShares: [
      { layers: [6, 60], weight: 1 },
      { layers: [90, 270], weight: 2 },
    ],
    flakeRadiusUm: [12, 30],
    dirt: CLEAN,
    surface: { focusUm: 1002, tiltXMrad: 0.3, tiltYMrad: 0.2, bowUm: 0.2 },
  },
]);

/** One large chip of a clean bench: a night of a thousand tiles, for time. */
const wide = makeTray('wide', [
  {
    name: 'W-01',
    centreUm: { xUm: 25_000, yUm: 25_000 },
    widthUm: 19_000,
    heightUm: 18_000,
    angleDeg: 1,
    flakesPerMm2: 2,
    dirt: { films: 0, residue: 0.2, bubbles: 0.5, dust: 45, scratches: 0 },
    surface: { focusUm: 1003, tiltXMrad: 0.8, tiltYMrad: -0.6, bowUm: 2 },
  },
]);

/** A full tray for a long night: 24 chips of an ordinary afternoon, 5 mm apart in rows of six. */
const full = makeTray(
  'full',
  Array.from({ length: 24 }, (_, i): ChipWish => ({
    name: `F-${String(i + 1).padStart(2, '0')}`,
    centreUm: { xUm: 10_000 + 5000 * (i % 6), yUm: 10_000 + 5000 * Math.floor(i / 6) },
    widthUm: 4300,
    heightUm: 4300,
    surface: { focusUm: 1000 + 2 * (i % 5), tiltXMrad: 0.3 * ((i % 4) - 1.5), tiltYMrad: 0.3 * ((i % 3) - 1), bowUm: 1 },
  })),
);

/** A stage micrometer, 1 mm in steps of 10 um, laid a little askew. */
const micrometer = makeTray('micrometer', [
  {
    name: 'M-10',
    centreUm: { xUm: 20_000, yUm: 20_000 },
    widthUm: 3000,
    heightUm: 3000,
    angleDeg: 1.7,
    flakesPerMm2: 0,
    dirt: { ...CLEAN, dust: 2 },
    surface: { focusUm: 1002, tiltXMrad: 0.3, tiltYMrad: -0.2, bowUm: 0 },
    ruling: { pitchUm: 10, lineUm: 2.5, lengthUm: 1200, lines: 101 },
  },
]);

const TRAYS: ReadonlyMap<string, Tray> = new Map([demo, tiny, watched, nitride, wide, full, micrometer].map((tray) => [tray.name, tray]));

export const trayNames: readonly string[] = [...TRAYS.keys()];

/** The tray of this name; `undefined` when there is none (see `trayNames`). */
export function findTray(name: string): Tray | undefined {
  return TRAYS.get(name);
}
