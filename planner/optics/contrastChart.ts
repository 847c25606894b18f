import type { ViewOptions } from './curves.ts';
import { prepareWafer, reflectanceSpectra } from './filmOnOxide.ts';
import { filmOf } from './materials.ts';

/** Contrast of a film over wavelength and oxide thickness, light of one wavelength at a time. */
export interface ContrastChart {
  readonly oxidesNm: readonly number[];
  readonly wavelengthsNm: readonly number[];
  /** wavelengths x oxides, row by row: C = (R0 - R)/R0, positive where the flake is darker. */
  readonly contrast: Float64Array;
}

/** Lamp and camera do not enter a chart of single wavelengths. */
export type ChartOptions = Omit<ViewOptions, 'lamp' | 'bands' | 'oxideNm'> & {
  /** Layers of the film; default 1. */
  readonly layers?: number;
  /** Oxide thicknesses of the columns. */
  readonly oxidesNm: readonly number[];
  /** Rows are those wavelengths of the spectral grid that lie in this range; default 400 to 750. */
  readonly wavelengthRangeNm?: readonly [number, number];
};

/**
 * The contrast chart: from it one reads which light shows a flake on a given oxide, and which oxide suits a light.
 * @throws RangeError when the aperture is out of range
 */
export function contrastChart(options: ChartOptions): ContrastChart {
  const film = filmOf(options.material);
  const wafer = prepareWafer(film.table, options.numericalAperture, options);
  const [fromNm, toNm] = options.wavelengthRangeNm ?? [400, 750];
  const grid = wafer.wavelengthsNm;
  const chosen = grid.map((_, index) => index).filter((index) => (grid[index] as number) >= fromNm && (grid[index] as number) <= toNm);
  const columns = options.oxidesNm.length;
  const contrast = new Float64Array(chosen.length * columns);
  options.oxidesNm.forEach((oxideNm, column) => {
    const spectra = reflectanceSpectra(wafer, oxideNm, [0, (options.layers ?? 1) * film.layerThicknessNm]);
    chosen.forEach((index, row) => {
      contrast[row * columns + column] = 1 - (spectra[grid.length + index] as number) / (spectra[index] as number);
    });
  });
  return { oxidesNm: options.oxidesNm, wavelengthsNm: chosen.map((index) => grid[index] as number), contrast };
}
