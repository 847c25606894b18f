import type { ViewOptions } from './curves.ts';
import { curveOn } from './curves.ts';
import { prepareWafer } from './filmOnOxide.ts';
import type { Film } from './materials.ts';
import { filmOf, thickFilmOf } from './materials.ts';

/** Above this layer number the index of thin films is not known to hold, and contrasts are given as ranges. */
export const lastExactLayer = 6;

/**
 * Published indices of one film differ by more than 20 % between papers (El-Sayed et al. 2021, doi 10.3390/nano11051230, abstract, READ); taken
 * as 10 % to either side of the film's optical strength, by way of its thickness.
 */
const strengthSpread = 0.1;

/** One step of a ladder. */
export interface Rung {
  readonly layers: number;
  /** Per channel, from the material's own table and spacing. */
  readonly contrast: readonly number[];
  /** Above six layers: how far the contrast may lie to either side, and the layer numbers that could look like this one. */
  readonly range?: {
    readonly low: readonly number[];
    readonly high: readonly number[];
    readonly layers: readonly [number, number];
  };
}

type Ladder = readonly (readonly number[])[];

/** Every ladder that may hold for thick films: the own table, the thick one, each with layers 10 % thinner and thicker. Never mixed within one. */
function plausibleLadders(options: ViewOptions, layersMax: number): Ladder[] {
  const own = filmOf(options.material);
  const thick = thickFilmOf(options.material);
  const films: readonly Film[] = thick === own ? [own] : [own, thick];
  return films.flatMap((film) => {
    const wafer = prepareWafer(film.table, options.numericalAperture, options);
    return [1 - strengthSpread, 1, 1 + strengthSpread].map((share) => {
      const thicknessesNm = Array.from({ length: layersMax + 1 }, (_, layers) => layers * share * film.layerThicknessNm);
      return curveOn(wafer, options.oxideNm, options.lamp, options.bands, thicknessesNm).contrast;
    });
  });
}

interface Span {
  readonly low: readonly number[];
  readonly high: readonly number[];
}

function spanOf(ladders: readonly Ladder[], layers: number): Span {
  const rungs = ladders.map((ladder) => ladder[layers] as readonly number[]);
  const over = (pick: (...values: number[]) => number): number[] => (rungs[0] as readonly number[]).map((_, channel) => pick(...rungs.map((rung) => rung[channel] as number)));
  return { low: over(Math.min), high: over(Math.max) };
}

const overlap = (a: Span, b: Span): boolean =>
  a.low.every((low, channel) => low <= (b.high[channel] as number) && (b.low[channel] as number) <= (a.high[channel] as number));

/** The unbroken run of layer numbers round `layers` whose spans meet its own. */
function layersLike(spans: readonly Span[], layers: number): readonly [number, number] {
  const own = spans[layers] as Span;
  let from = layers;
  let to = layers;
  while (from > 1 && overlap(spans[from - 1] as Span, own)) from--;
  while (to < spans.length - 1 && overlap(spans[to + 1] as Span, own)) to++;
  return [from, to];
}

/** Rungs computed beyond the last one that is asked for, so that its layer range is not cut short. */
const beyond = 3;

/**
 * Contrast per channel against layer number, 0 to `layersMax`: one table and one spacing throughout; above six layers with the range within
 * which it is known and the layer numbers that fall into it.
 * @throws RangeError when the aperture is out of range
 */
export function countedLadder(options: ViewOptions & { readonly layersMax: number }): Rung[] {
  const film = filmOf(options.material);
  const count = options.layersMax + 1;
  const wafer = prepareWafer(film.table, options.numericalAperture, options);
  const thicknessesNm = Array.from({ length: count }, (_, layers) => layers * film.layerThicknessNm);
  const { contrast } = curveOn(wafer, options.oxideNm, options.lamp, options.bands, thicknessesNm);
  const ladders = options.layersMax > lastExactLayer ? plausibleLadders(options, options.layersMax + beyond) : [];
  const spans = (ladders[0] ?? []).map((_, layers) => spanOf(ladders, layers));
  return contrast.map((rung, layers) => {
    const span = layers > lastExactLayer ? spans[layers] : undefined;
    return span ? { layers, contrast: rung, range: { ...span, layers: layersLike(spans, layers) } } : { layers, contrast: rung };
  });
}
