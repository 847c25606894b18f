/** Twice the exposure must give twice the light within this share, else contrast is not to be trusted. */
export const LINEARITY_BAR = 0.01;

/** What one channel gave. */
export interface ChannelLinearity {
  readonly name: 'red' | 'green' | 'blue' | 'grey';
  /** Light at the long exposure over that at the short one, dark level taken off. */
  readonly ratio: number;
  /** Standard error of the ratio over the ratio. */
  readonly uncertainty: number;
  /** The ratio over that of the exposures, less 1. */
  readonly departure: number;
  /** Share of full scale that the long exposure reached, in linear light. */
  readonly level: number;
  /** The light as a whole varied by more than can be told from its parts. */
  readonly isUnsteady: boolean;
}

/** Two exposures held against each other. */
export interface LinearityMeasurement {
  readonly shortMs: number;
  readonly longMs: number;
  readonly channels: readonly ChannelLinearity[];
  /** Channels with too little light, or too much. */
  readonly leftOut: readonly ChannelLinearity['name'][];
}

/** Why a camera was not judged. */
export type LinearityUnknown =
  | { readonly code: 'lampByHand' }
  | { readonly code: 'oneExposure'; readonly minMs: number; readonly maxMs: number }
  | { readonly code: 'tooDark'; readonly longMs: number; readonly level: number; readonly leastLevel: number }
  | { readonly code: 'tooBright'; readonly shortMs: number }
  | { readonly code: 'unsteadyLight' | 'tooNoisy' | 'atTheBar'; readonly measured: LinearityMeasurement };

export type LinearityResult =
  | { readonly verdict: 'linear' | 'notLinear'; readonly measured: LinearityMeasurement }
  | { readonly verdict: 'unknown'; readonly why: LinearityUnknown };
