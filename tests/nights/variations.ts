import { stringify } from 'yaml';
import { understand, type NightFiles } from '../../daemon/run/openNight.ts';
import { makeTray, type ChipWish, type Tray } from '../../simulators/index.ts';
import { randomStream, type Random } from '../../simulators/random.ts';
import { tinyInstrument, tinySheet, withCloseUps } from '../support/tinyFiles.ts';

/** What lies on the stage and how it is looked at: every night has one of a few, so that its fault-free twin need not be run each time. */
export interface Variation {
  readonly number: number;
  readonly files: NightFiles;
  readonly tray: Tray;
  /** Of the chips, and of all chance in the simulated microscope. */
  readonly seed: number;
}

/** One for each variation, chosen so that its fault-free night finds focus on every chip and skips nothing. */
const SEEDS = [100, 121, 112, 103, 104, 105] as const;
export const VARIATIONS = SEEDS.length;

/** Where chips lie: far enough apart that the objective has to go up between them. */
const PLACES = [
  { xUm: 20_000, yUm: 20_000 },
  { xUm: 23_500, yUm: 20_400 },
] as const;
const MARGIN_UM = 60;

function chipWish(random: Random, name: string, centreUm: { readonly xUm: number; readonly yUm: number }): ChipWish {
  return {
    name,
    centreUm,
    widthUm: Math.round(random.between(520, 620)),
    heightUm: Math.round(random.between(420, 500)),
    angleDeg: random.between(-4, 4),
    flakesPerMm2: 34,
    layerShares: [
      { layers: [1, 1], weight: 4 },
      { layers: [2, 2], weight: 3 },
      { layers: [3, 4], weight: 2 },
      { layers: [12, 120], weight: 3 },
    ],
    flakeRadiusUm: [12, 26],
    dirt: { films: 0.5, residue: 1, bubbles: 4, dust: 8, scratches: 0.5 },
    surface: { focusUm: 1000 + random.between(-5, 5), tiltXMrad: random.between(-1, 1), tiltYMrad: random.between(-1, 1), bowUm: random.between(0, 0.5) },
  };
}

function sheetChip({ name, centreUm, widthUm = 0, heightUm = 0, angleDeg = 0 }: ChipWish) {
  const rectangle = { centreUm: [centreUm.xUm, centreUm.yUm], widthUm: widthUm - 2 * MARGIN_UM, heightUm: heightUm - 2 * MARGIN_UM, angleDeg };
  return { name, outline: { rectangle }, edgeMarginUm: 0, material: 'graphene', oxideNm: 290 };
}

/** The variation that a seed's night has: one chip or two, slack measured or not, now and then close-ups, four focus points or five. */
export function variationOf(nightSeed: number): Variation {
  const number = ((nightSeed % VARIATIONS) + VARIATIONS) % VARIATIONS;
  const seed = SEEDS[number] ?? 0;
  const random = randomStream(seed, 'nights', 'variation');
  const wishes = PLACES.slice(0, number % 2 === 0 ? 1 : 2).map((place, n) => chipWish(random, `V-${n + 1}`, place));
  const [instrument, sheet] = [tinyInstrument(), tinySheet()];
  if (number % 4 >= 2) Object.assign(instrument.stage, { playUm: [12, 12] });
  if (number === 4) withCloseUps(instrument, sheet);
  Object.assign(instrument.simulator, { seed, tray: 'nights' });
  Object.assign(instrument.camera, { widthPx: 160, heightPx: 130, pixelPitchUm: 11.04 });
  Object.assign(sheet, { chips: wishes.map(sheetChip) });
  sheet.focus.pointsPerChip = 4 + (number % 3 === 0 ? 1 : 0);
  return { number, seed, tray: makeTray('nights', wishes), files: understand(stringify(sheet), 'run sheet', stringify(instrument), 'instrument file') };
}
