import { interpolateEven } from './indexTable.ts';
import type { Lamp } from './lamps.ts';
import { lampPower } from './lamps.ts';
import { cie1931 } from './tables/cie1931.ts';

/** How sensitive one channel of a camera is over wavelength; plain data, only the shape counts. */
export type Band =
  | { readonly kind: 'gaussian'; readonly centreNm: number; readonly sigmaNm: number }
  | { readonly kind: 'tabulated'; readonly startNm: number; readonly stepNm: number; readonly sensitivity: readonly number[] };

/** A camera's channels in the order of its pixels: red, green, blue, or one. */
export interface BandSet {
  readonly name: string;
  readonly bands: readonly Band[];
}

/** An idealised colour camera, no real sensor: Gaussians at 600, 540 and 460 nm of 35 nm sigma. */
export const idealColourBands: BandSet = {
  name: 'ideal-rgb',
  bands: [600, 540, 460].map((centreNm) => ({ kind: 'gaussian', centreNm, sigmaNm: 35 })),
};

/** An idealised mono camera without a filter: one wide Gaussian in the green (a model of ours). */
export const idealMonoBands: BandSet = { name: 'ideal-mono', bands: [{ kind: 'gaussian', centreNm: 540, sigmaNm: 80 }] };

/** The CIE 1931 standard observer as a camera: channels X, Y and Z. Y is what the eye calls brightness. */
export const observerBands: BandSet = {
  name: 'cie-observer',
  bands: [cie1931.x, cie1931.y, cie1931.z].map((sensitivity) => ({ kind: 'tabulated', startNm: cie1931.startNm, stepNm: cie1931.stepNm, sensitivity })),
};

/** Relative sensitivity of a band at one wavelength. */
export function bandSensitivity(band: Band, wavelengthNm: number): number {
  if (band.kind === 'gaussian') return Math.exp(-(((wavelengthNm - band.centreNm) / band.sigmaNm) ** 2) / 2);
  return interpolateEven(band.sensitivity, band.startNm, band.stepNm, wavelengthNm);
}

/** The wavelengths of every spectral sum: 380 to 780 nm in even steps, 5 nm unless told otherwise. */
export function spectralGrid(stepNm = 5): number[] {
  const points = Math.floor(400 / stepNm + 1e-9) + 1;
  return Array.from({ length: points }, (_, index) => 380 + index * stepNm);
}

/**
 * Weights that turn a spectrum of reflectance into channel levels: lamp times band, adding up to 1 per channel, so that a perfect mirror
 * gives 1 (a camera balanced on a mirror).
 * @returns [channel][wavelength]
 */
export function bandWeights(lamp: Lamp, bands: BandSet, wavelengthsNm: readonly number[]): Float64Array[] {
  return bands.bands.map((band) => {
    const weights = Float64Array.from(wavelengthsNm, (nm) => lampPower(lamp, nm) * bandSensitivity(band, nm));
    const sum = weights.reduce((total, weight) => total + weight, 0);
    return weights.map((weight) => weight / sum);
  });
}

/** How much light a channel gets off a perfect mirror, and about which wavelength: null where it gets none. */
export interface ChannelLight {
  readonly power: number;
  readonly meanNm: number | null;
}

/** Lamp times band for each channel, summed on the spectral grid. Channels that get no light have no contrast: leave them out. */
export function channelLight(lamp: Lamp, bands: BandSet, stepNm = 1): ChannelLight[] {
  const wavelengthsNm = spectralGrid(stepNm);
  return bands.bands.map((band) => {
    let power = 0;
    let moment = 0;
    for (const nm of wavelengthsNm) {
      const light = lampPower(lamp, nm) * bandSensitivity(band, nm) * stepNm;
      power += light;
      moment += light * nm;
    }
    return { power, meanNm: power > 0 ? moment / power : null };
  });
}
