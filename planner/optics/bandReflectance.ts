import type { BandSet } from './bands.ts';
import { bandWeights, spectralGrid } from './bands.ts';
import type { IndexTable } from './indexTable.ts';
import { indexAt } from './indexTable.ts';
import type { Lamp } from './lamps.ts';
import type { Stack } from './transferMatrix.ts';
import { stackReflectance } from './transferMatrix.ts';

/** A stack described over all wavelengths: films topmost first. */
export interface StackDesign {
  readonly films: readonly { readonly table: IndexTable; readonly thicknessNm: number }[];
  readonly substrate: IndexTable;
}

/** The stack as it is at one wavelength. */
export function stackAt(design: StackDesign, wavelengthNm: number): Stack {
  return {
    layers: design.films.map((film) => ({ ...indexAt(film.table, wavelengthNm), thicknessNm: film.thicknessNm })),
    substrate: indexAt(design.substrate, wavelengthNm),
  };
}

/**
 * Level of each camera channel relative to a perfect mirror, linear light, for any stack. Slow and general; a ladder of one film on oxide
 * goes through `layerCurve`.
 * @param numericalAperture of the aperture stop, 0 to below 1
 * @returns one number per band
 */
export function bandReflectance(design: StackDesign, lamp: Lamp, bands: BandSet, numericalAperture: number, stepNm = 5): number[] {
  const wavelengthsNm = spectralGrid(stepNm);
  const reflectance = wavelengthsNm.map((nm) => stackReflectance(stackAt(design, nm), nm, numericalAperture));
  return bandWeights(lamp, bands, wavelengthsNm).map((weights) => weights.reduce((sum, weight, i) => sum + weight * (reflectance[i] as number), 0));
}
