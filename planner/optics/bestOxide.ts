import type { ViewOptions } from './curves.ts';
import { curveOn } from './curves.ts';
import { peaksOf } from './extrema.ts';
import { prepareWafer } from './filmOnOxide.ts';
import { filmOf } from './materials.ts';

/** An oxide on which a film stands out most among the oxides near it. */
export interface BestOxide {
  readonly oxideNm: number;
  /** Of each channel there, signed: negative where the flake is brighter. */
  readonly contrast: readonly number[];
}

export interface BestOxides {
  /** Local maxima of |contrast| for each channel by itself, thinnest oxide first. */
  readonly byChannel: readonly (readonly BestOxide[])[];
  /** For all channels together: local maxima of the root of the sum of squares, which is what equal noise in all channels asks for. */
  readonly overall: readonly BestOxide[];
}

export type BestOxideOptions = Omit<ViewOptions, 'oxideNm'> & {
  /** Layers of the film; default 1. */
  readonly layers?: number;
  /** Searched range; default 20 to 400. */
  readonly rangeNm?: readonly [number, number];
};

const searchStepNm = 2;

/**
 * Which oxide thicknesses suit a light: searched every 2 nm and refined by a parabola (within 0.1 nm for curves as smooth as these).
 * @throws RangeError when the aperture is out of range
 */
export function bestOxides(options: BestOxideOptions): BestOxides {
  const film = filmOf(options.material);
  const wafer = prepareWafer(film.table, options.numericalAperture, options);
  const [fromNm, toNm] = options.rangeNm ?? [20, 400];
  const contrastAt = (oxideNm: number): readonly number[] =>
    curveOn(wafer, oxideNm, options.lamp, options.bands, [(options.layers ?? 1) * film.layerThicknessNm]).contrast[0] as number[];
  const count = Math.floor((toNm - fromNm) / searchStepNm) + 1;
  const sampled = Array.from({ length: count }, (_, index) => contrastAt(fromNm + index * searchStepNm));
  const best = (strength: (contrast: readonly number[]) => number): BestOxide[] =>
    peaksOf(sampled.map(strength), fromNm, searchStepNm).map(({ at }) => ({ oxideNm: at, contrast: contrastAt(at) }));
  return {
    byChannel: options.bands.bands.map((_, channel) => best((contrast) => Math.abs(contrast[channel] as number))),
    overall: best((contrast) => Math.hypot(...contrast)),
  };
}
