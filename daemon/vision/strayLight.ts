import type { Detection, MeasuredTerrace } from '../../planner/flakes/types.ts';
import { pixelAreaUm2 } from '../../planner/units/index.ts';
import type { FramePose } from '../../planner/units/index.ts';
import { pointSpread } from './pointSpread.ts';

/** How much of the substrate's level stray light can be at most, by the darkest thing that the frames show. */
export interface StrayLightBound {
  /** Per channel, as a share of the substrate's level. */
  readonly atMost: readonly number[];
  /** Dark places that were looked at. */
  readonly places: number;
}

/** A place is dark when no channel has more than this share of the substrate's level. */
const DARK = 0.4;
/** Standard errors that are added to a measured level: it is a bound. */
const ERRORS = 3;

/**
 * Adds the dark places of one frame to the bound.
 *
 * Stray light lies over a frame as a share f of the bare oxide's level L0. Where the chip sends back a share r of what bare oxide does,
 * the frame shows L = L0 (f + (1 - f) r), and so f <= L / L0 whatever r is: the darkest place is an upper bound. It is no estimate.
 * Dust is not black, and how black it is nobody knows: on two of the project's reference sets without any stray light a dozen specks
 * agree on a tenth of the substrate's level in all channels, just as stray light would look. Thick graphite has a known reflectance,
 * but published indices leave 5 % of it open, and so 8 % of f and more. Measured contrast is too small by 1 - f; that is left to the
 * scale that the run's own flakes give their ladder (`gain`), and this bound says how far it can be due to stray light.
 * @param flare what was taken off the frame as stray light
 */
export function addDarkPlaces(bound: StrayLightBound | undefined, detections: readonly Detection[], pose: FramePose, numericalAperture: number, flare: readonly number[]): StrayLightBound | undefined {
  const leastUm = 2 * (pointSpread(numericalAperture, pose).clearPx + 1) * Math.sqrt(pixelAreaUm2(pose.cameraToStageUm));
  const dark = detections
    .flatMap((d) => d.terraces)
    .filter((t) => t.inscribedUm >= leastUm && t.contrast.every((c) => 1 - c < DARK))
    .map((t) => levelsOf(t, flare));
  return dark.reduce<StrayLightBound | undefined>((least, levels) => {
    const atMost = levels.map((level, c) => Math.min(level, least?.atMost[c] ?? 1));
    return { atMost, places: (least?.places ?? 0) + 1 };
  }, bound);
}

/** What a terrace shows of the substrate's level, stray light included, and its error on top. */
function levelsOf({ contrast, contrastError }: MeasuredTerrace, flare: readonly number[]): readonly number[] {
  return contrast.map((c, channel) => {
    const f = flare[channel] ?? 0;
    return Math.min(1, Math.max(0, f + (1 - f) * (1 - c + ERRORS * (contrastError[channel] ?? 0))));
  });
}
