import type { StagePoint } from '../units/index.ts';

/** What one visit to the known flake found. */
export interface SeenKnownFlake {
  /** Where it lies, from the place that the instrument file names. */
  readonly offsetUm: StagePoint;
  /** Per channel, with one standard error each. */
  readonly contrast: readonly number[];
  readonly contrastError: readonly number[];
  /** Level of bare oxide in the middle of the field per channel, dark level taken off, 0 to 1 of full scale. */
  readonly level: readonly number[];
  /** Height of best focus. */
  readonly zUm: number;
  readonly areaUm2: number;
}

/** What is watched: contrast of its strongest channel, light and its colour as shares, place and height of focus in um. */
export type Quantity = 'contrast' | 'light' | 'colour' | 'place' | 'focus';

/** How one quantity stands against earlier nights. */
export interface Change {
  readonly quantity: Quantity;
  /** A share for contrast, light and colour; um for place (a distance, never negative) and focus. */
  readonly by: number;
  /** One standard error of that. */
  readonly error: number;
  /** Steady within this much to either side. */
  readonly bound: number;
  readonly isSteady: boolean;
}

/** A visit against earlier nights. */
export interface Steadiness {
  /** Contrast of the channel that is strongest in earlier nights, and which one that is. */
  readonly contrast: number;
  readonly channel: number;
  /** How many earlier nights it is held against. */
  readonly nights: number;
  /** Nothing where there are none. */
  readonly changes: readonly Change[];
}
