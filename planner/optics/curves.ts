import type { BandSet } from './bands.ts';
import { bandWeights } from './bands.ts';
import type { Fineness, PreparedWafer, Wafer } from './filmOnOxide.ts';
import { prepareWafer, reflectanceSpectra } from './filmOnOxide.ts';
import type { Lamp } from './lamps.ts';
import type { Film, MaterialId } from './materials.ts';
import { filmOf, thickFilmOf } from './materials.ts';

/** The light, the camera and the wafer that a contrast is seen with. */
export interface ViewOptions extends Fineness, Wafer {
  readonly material: MaterialId | Film;
  readonly oxideNm: number;
  /** Of the aperture stop, 0 to below 1. */
  readonly numericalAperture: number;
  readonly lamp: Lamp;
  readonly bands: BandSet;
}

/** Channel levels in linear light relative to a perfect mirror; rows are layer numbers from 0, or the thicknesses asked for. */
export interface ContrastCurve {
  /** C = (R0 - R)/R0, positive where the flake is darker than the bare oxide. */
  readonly contrast: number[][];
  /** R0, the bare oxide, per channel. */
  readonly substrate: number[];
  readonly reflectance: number[][];
}

/**
 * Channel levels of films on one prepared wafer: for fits that change oxide, lamp or bands many times under one aperture.
 * @param thicknessesNm thickness of the whole film for each row
 */
export function curveOn(wafer: PreparedWafer, oxideNm: number, lamp: Lamp, bands: BandSet, thicknessesNm: readonly number[]): ContrastCurve {
  const spectra = reflectanceSpectra(wafer, oxideNm, [0, ...thicknessesNm]);
  const weights = bandWeights(lamp, bands, wafer.wavelengthsNm);
  const levels = (row: number) =>
    weights.map((channel) => {
      let sum = 0;
      for (let i = 0, at = row * channel.length; i < channel.length; i++, at++) sum += (channel[i] as number) * (spectra[at] as number);
      return sum;
    });
  const substrate = levels(0);
  const reflectance = thicknessesNm.map((_, row) => levels(row + 1));
  const contrast = reflectance.map((row) => row.map((level, channel) => 1 - level / (substrate[channel] as number)));
  return { contrast, substrate, reflectance };
}

/**
 * The contrast ladder: 0 to `layersMax` layers of a material on oxide on silicon, one film of N times the layer's thickness.
 * @throws RangeError when the aperture is out of range
 */
export function layerCurve(options: ViewOptions & { readonly layersMax: number }): ContrastCurve {
  const film = filmOf(options.material);
  const thicknessesNm = Array.from({ length: options.layersMax + 1 }, (_, layers) => layers * film.layerThicknessNm);
  const wafer = prepareWafer(film.table, options.numericalAperture, options);
  return curveOn(wafer, options.oxideNm, options.lamp, options.bands, thicknessesNm);
}

/**
 * Contrast by thickness, where layers are not counted: hBN, or graphite for thick graphene (which then has graphite's index).
 * @throws RangeError when the aperture is out of range
 */
export function thicknessCurve(options: ViewOptions & { readonly thicknessesNm: readonly number[] }): ContrastCurve {
  const wafer = prepareWafer(thickFilmOf(options.material).table, options.numericalAperture, options);
  return curveOn(wafer, options.oxideNm, options.lamp, options.bands, options.thicknessesNm);
}
