/** What a terrace's contrast is measured with. */
export interface Measurement {
  /** Standard deviation of one pixel in one frame over the bare oxide's level, the same for every channel or one for each. */
  readonly noise: number | readonly number[];
  /** Pixels that are averaged on the terrace; as many are taken to be averaged on the bare oxide beside it. */
  readonly pixels: number;
  /** What no averaging takes away, over the bare oxide's level: what the flat field leaves. Default `usualUnevenness`. */
  readonly unevenness?: number;
}

/** Half a per cent: what a flat field usually leaves uncorrected (common practice, no source). */
export const usualUnevenness = 0.005;

/**
 * Two layer numbers are apart when their contrasts differ by four standard errors: a threshold half way between them then errs for one
 * terrace in 44 on either side (2 sigma, one-sided 2.3 %).
 */
export const apartAtErrors = 4;

/**
 * Standard error of a terrace's contrast in one channel: C = 1 - R/R0 with both levels averaged over the same number of pixels,
 * sigma^2 = 2 noise^2 / pixels + unevenness^2 (to first order in C).
 * @param lightShare light of the channel over that with which `noise` was measured; shot noise grows as its root falls
 */
export function contrastError(measurement: Measurement, channel: number, lightShare = 1): number {
  const { noise, pixels } = measurement;
  const one = typeof noise === 'number' ? noise : (noise[channel] as number);
  return Math.hypot(one * Math.sqrt(2 / (pixels * lightShare)), measurement.unevenness ?? usualUnevenness);
}

/** Two layer numbers that a channel, or all channels together, cannot tell apart. */
export type AlikeLayers =
  | {
      /** Neighbouring layer numbers in one channel. */
      readonly kind: 'alikeInChannel';
      readonly channel: number;
      readonly layers: readonly [number, number];
      /** How far the contrasts are apart, and how far they would have to be. */
      readonly difference: number;
      readonly needed: number;
    }
  | {
      /** Any two layer numbers, all channels taken together. */
      readonly kind: 'alikeInAll';
      readonly layers: readonly [number, number];
      /** How far they are apart in standard errors, and how far they would have to be. */
      readonly difference: number;
      readonly needed: number;
    };

/**
 * Which layer numbers cannot be told apart by their contrast: in each channel the neighbours, and in all channels together any two (colours
 * repeat in thick films).
 * @param contrast rows are layer numbers from 0, as `layerCurve` gives them
 */
export function alikeLayers(contrast: readonly (readonly number[])[], measurement: Measurement): AlikeLayers[] {
  const errors = (contrast[0] ?? []).map((_, channel) => contrastError(measurement, channel));
  const apart = (a: number, b: number, channel: number): number => Math.abs((contrast[a]?.[channel] as number) - (contrast[b]?.[channel] as number));
  const alike: AlikeLayers[] = [];
  errors.forEach((error, channel) => {
    const needed = apartAtErrors * error;
    for (let layers = 1; layers < contrast.length; layers++) {
      const difference = apart(layers - 1, layers, channel);
      if (difference < needed) alike.push({ kind: 'alikeInChannel', channel, layers: [layers - 1, layers], difference, needed });
    }
  });
  for (let a = 0; a < contrast.length; a++) {
    for (let b = a + 1; b < contrast.length; b++) {
      const difference = Math.hypot(...errors.map((error, channel) => apart(a, b, channel) / error));
      if (difference < apartAtErrors) alike.push({ kind: 'alikeInAll', layers: [a, b], difference, needed: apartAtErrors });
    }
  }
  return alike;
}
