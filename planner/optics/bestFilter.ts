import type { Measurement } from './apart.ts';
import { contrastError } from './apart.ts';
import { bandSensitivity } from './bands.ts';
import type { ViewOptions } from './curves.ts';
import type { Peak } from './extrema.ts';
import { peaksOf } from './extrema.ts';
import { prepareWafer, reflectanceSpectra } from './filmOnOxide.ts';
import type { BandPass } from './filters.ts';
import { filterTransmittance } from './filters.ts';
import { lampPower } from './lamps.ts';
import { filmOf } from './materials.ts';

/** What a film looks like through a filter, or without one. */
export interface FilteredView {
  /** Per channel, signed. */
  readonly contrast: readonly number[];
  /** Light of each channel off the bare oxide over that without a filter. */
  readonly lightShare: readonly number[];
  /** How many standard errors the film is away from bare oxide, all channels together. */
  readonly errors: number;
}

export interface BestFilter extends FilteredView {
  readonly filter: BandPass;
  readonly unfiltered: FilteredView;
}

export type BestFilterOptions = ViewOptions & {
  /** Layers of the film; default 1. */
  readonly layers?: number;
  /** Camera noise, measured without a filter; the exposure is kept, so a filter costs light. */
  readonly measurement: Measurement;
  /** Widths that can be had; default 10 to 100 nm. */
  readonly widthsNm?: readonly number[];
  /** Middles that can be had; default every 5 nm from 420 to 720. */
  readonly centresNm?: readonly number[];
};

const usualWidthsNm = [10, 20, 30, 40, 50, 60, 80, 100];
const usualCentresNm = Array.from({ length: 61 }, (_, index) => 420 + 5 * index);
/** Fine enough for the narrowest filter. */
const stepNm = 1;

/** Light off the bare oxide and off the film, before any filter, per channel and wavelength. */
interface Light {
  readonly wavelengthsNm: readonly number[];
  readonly bare: readonly Float64Array[];
  readonly covered: readonly Float64Array[];
}

function lightOf(options: BestFilterOptions): Light {
  const film = filmOf(options.material);
  const wafer = prepareWafer(film.table, options.numericalAperture, { ...options, stepNm });
  const { wavelengthsNm } = wafer;
  const spectra = reflectanceSpectra(wafer, options.oxideNm, [0, (options.layers ?? 1) * film.layerThicknessNm]);
  const seen = (row: number): Float64Array[] =>
    options.bands.bands.map((band) =>
      Float64Array.from(wavelengthsNm, (nm, i) => lampPower(options.lamp, nm) * bandSensitivity(band, nm) * (spectra[row * wavelengthsNm.length + i] as number)),
    );
  return { wavelengthsNm, bare: seen(0), covered: seen(1) };
}

const total = (light: Float64Array, transmittance: Float64Array): number => light.reduce((sum, power, i) => sum + power * (transmittance[i] as number), 0);

/** Channels that get less than a millionth of their light through a filter count as dark: no contrast, no weight. */
const darkShare = 1e-6;

function viewThrough(light: Light, measurement: Measurement, transmittance: Float64Array, open: readonly number[]): FilteredView {
  const bare = light.bare.map((channel) => total(channel, transmittance));
  const lightShare = bare.map((level, channel) => ((open[channel] as number) > 0 ? level / (open[channel] as number) : 0));
  const lit = (channel: number): boolean => (lightShare[channel] as number) > darkShare;
  const contrast = light.covered.map((channel, c) => (lit(c) ? 1 - total(channel, transmittance) / (bare[c] as number) : 0));
  const errors = Math.hypot(...contrast.map((value, c) => (lit(c) ? value / contrastError(measurement, c, lightShare[c]) : 0)));
  return { contrast, lightShare, errors };
}

/**
 * Which band-pass filter shows a film best on a given oxide: the centre and width at which it stands most standard errors away from the
 * bare oxide, all channels together. A narrow band has the greatest contrast and the least light; what the flat field leaves and the shot noise,
 * both in `measurement`, strike the balance.
 * @throws RangeError when the aperture is out of range, or no centre or width is given
 */
export function bestFilter(options: BestFilterOptions): BestFilter {
  const light = lightOf(options);
  const clear = new Float64Array(light.wavelengthsNm.length).fill(1);
  const open = light.bare.map((channel) => total(channel, clear));
  const unfiltered = viewThrough(light, options.measurement, clear, open);
  let best: BestFilter | undefined;
  for (const widthNm of options.widthsNm ?? usualWidthsNm) {
    for (const centreNm of options.centresNm ?? usualCentresNm) {
      const filter = { centreNm, widthNm };
      const transmittance = Float64Array.from(light.wavelengthsNm, (nm) => filterTransmittance(filter, nm));
      const view = viewThrough(light, options.measurement, transmittance, open);
      if (!best || view.errors > best.errors) best = { ...view, filter, unfiltered };
    }
  }
  if (!best) throw new RangeError('no filter was given to choose from');
  return best;
}

/**
 * Wavelengths at which a film has its greatest contrast on a given oxide, either sign, in light of one wavelength: local maxima of |C| from 400
 * to 750 nm, values signed.
 * @throws RangeError when the aperture is out of range
 */
export function contrastPeaks(options: Omit<ViewOptions, 'lamp' | 'bands'> & { readonly layers?: number }): Peak[] {
  const film = filmOf(options.material);
  const wafer = prepareWafer(film.table, options.numericalAperture, { ...options, stepNm });
  const spectra = reflectanceSpectra(wafer, options.oxideNm, [0, (options.layers ?? 1) * film.layerThicknessNm]);
  const { wavelengthsNm } = wafer;
  const spectrum = wavelengthsNm.map((_, i) => 1 - (spectra[wavelengthsNm.length + i] as number) / (spectra[i] as number));
  const start = wavelengthsNm[0] as number;
  return peaksOf(spectrum.map(Math.abs), start, stepNm)
    .filter(({ at }) => at >= 400 && at <= 750)
    .map(({ at, value }) => ({ at, value: value * Math.sign(spectrum[Math.round((at - start) / stepNm)] as number) }));
}
