import type { ViewOptions } from './curves.ts';
import { prepareWafer, reflectanceSpectra } from './filmOnOxide.ts';
import { interpolateEven } from './indexTable.ts';
import type { Lamp } from './lamps.ts';
import { lampPower } from './lamps.ts';
import { filmOf } from './materials.ts';
import { cie1931 } from './tables/cie1931.ts';

export type Triple = readonly [number, number, number];

/** How a surface looks to the standard observer. */
export interface SeenColour {
  /** CIE 1931 XYZ; a perfect mirror has Y = 100. */
  readonly xyz: Triple;
  /** Linear sRGB, not clipped, not adapted to the lamp: strong colours may lie outside 0..1. */
  readonly linearSrgb: Triple;
  /** The same with each channel divided by a perfect mirror's under the same lamp. */
  readonly balancedSrgb: Triple;
  /** `balancedSrgb` clipped and put through sRGB's transfer curve, 0 to 255. */
  readonly srgb8: Triple;
}

/** XYZ to linear sRGB as printed in IEC 61966-2-1:1999. */
const xyzToSrgb: readonly Triple[] = [
  [3.2406, -1.5372, -0.4986],
  [-0.9689, 1.8758, 0.0415],
  [0.0557, -0.204, 1.057],
];

const each = (make: (channel: number) => number): Triple => [make(0), make(1), make(2)];
const pick = (triple: Triple, channel: number): number => triple[channel] as number;

/** sRGB's transfer curve (IEC 61966-2-1:1999) from clipped linear light to 0..255. */
function encode8(linear: number): number {
  const clipped = Math.min(Math.max(linear, 0), 1);
  const curved = clipped <= 0.0031308 ? 12.92 * clipped : 1.055 * clipped ** (1 / 2.4) - 0.055;
  return Math.round(255 * curved);
}

/** X = k sum S R xbar, k = 100 / sum S ybar (CIE 015:2018). */
function tristimulus(wavelengthsNm: readonly number[], lamp: Lamp, reflectanceAt: (index: number) => number): Triple {
  const sums = [0, 0, 0];
  let white = 0;
  wavelengthsNm.forEach((nm, index) => {
    const power = lampPower(lamp, nm);
    const light = power * reflectanceAt(index);
    [cie1931.x, cie1931.y, cie1931.z].forEach((curve, channel) => {
      sums[channel] = (sums[channel] as number) + light * interpolateEven(curve, cie1931.startNm, cie1931.stepNm, nm);
    });
    white += power * interpolateEven(cie1931.y, cie1931.startNm, cie1931.stepNm, nm);
  });
  return each((channel) => (100 * (sums[channel] as number)) / white);
}

function toLinearSrgb(xyz: Triple): Triple {
  return each((row) => {
    const [x, y, z] = xyzToSrgb[row] as Triple;
    return (x * xyz[0] + y * xyz[1] + z * xyz[2]) / 100;
  });
}

/**
 * The colour of a spectrum of reflectance under a lamp.
 * @param reflectance one number for each of `wavelengthsNm`, which are evenly spaced
 */
export function colourOf(wavelengthsNm: readonly number[], reflectance: ArrayLike<number>, lamp: Lamp): SeenColour {
  const xyz = tristimulus(wavelengthsNm, lamp, (index) => reflectance[index] as number);
  const mirror = toLinearSrgb(tristimulus(wavelengthsNm, lamp, () => 1));
  const linearSrgb = toLinearSrgb(xyz);
  const balancedSrgb = each((channel) => pick(linearSrgb, channel) / pick(mirror, channel));
  return { xyz, linearSrgb, balancedSrgb, srgb8: each((channel) => encode8(pick(balancedSrgb, channel))) };
}

/**
 * Colours of 0 to `layersMax` layers on a wafer as the standard observer would see them through the eyepieces.
 * @throws RangeError when the aperture is out of range
 */
export function coloursSeen(options: Omit<ViewOptions, 'bands'> & { readonly layersMax: number }): SeenColour[] {
  const film = filmOf(options.material);
  const thicknessesNm = Array.from({ length: options.layersMax + 1 }, (_, layers) => layers * film.layerThicknessNm);
  const wafer = prepareWafer(film.table, options.numericalAperture, options);
  const spectra = reflectanceSpectra(wafer, options.oxideNm, thicknessesNm);
  const columns = wafer.wavelengthsNm.length;
  return thicknessesNm.map((_, row) => colourOf(wafer.wavelengthsNm, spectra.subarray(row * columns, (row + 1) * columns), options.lamp));
}
