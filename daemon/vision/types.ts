import type { CameraFrame } from '../../drivers/interfaces/index.ts';
import type { Detection } from '../../planner/flakes/types.ts';
import type { FramePose } from '../../planner/units/index.ts';

/** Relative light over the field, coarse, per channel; 1 on average. Divide a frame by it. Interpolate bilinearly. */
export interface FlatField {
  readonly columns: number;
  readonly rows: number;
  readonly channels: number;
  /** rows * columns * channels, interleaved like a frame. */
  readonly values: Float32Array;
  /** How many frames went into it; a blank frame counts as many as it takes. */
  readonly frames: number;
}

/** Everything a frame must be read with; the same for all frames of one optical path on one chip. */
export interface OpticalContext {
  readonly transfer: 'linear' | 'srgb';
  readonly numericalAperture: number;
  /** Dark level per sample (see `samplesOf`) or one number per channel, in linear full-scale units; zeros when none was taken. */
  readonly dark: Float32Array | readonly number[];
  readonly flat?: FlatField;
  /** Share of stray light in the substrate's level, per channel. */
  readonly flare: readonly number[];
  /** Samples that must not be used: hot in the dark frame, or off at one place in frame after frame. Ascending indices of samples. */
  readonly masked?: Int32Array;
  /** Level of bare oxide in earlier frames of this chip, per channel, linear: tells it from a thick flake that fills the field. */
  readonly substrate?: readonly number[];
}

/** Why a whole frame cannot be used; `torn`: parts of it are missing or from elsewhere, `noDetail`: every pixel the same. */
export const frameFaults = ['black', 'saturated', 'outOfFocus', 'wrongSize', 'noSubstrate', 'torn', 'noDetail'] as const;
export type FrameFault = (typeof frameFaults)[number];

/** What the pixel passes make of one frame. Plain data: it crosses threads and is stored. */
export interface FrameMeasurement {
  readonly fault?: FrameFault;
  /** Level of bare oxide at the frame's centre per channel, linear, 0 to 1 of full scale. */
  readonly substrate: readonly number[];
  /** Noise of one pixel relative to the substrate, per channel. */
  readonly noise: readonly number[];
  /** Share of pixels that are bare oxide. */
  readonly substrateShare: number;
  /** Gradient energy, for watching focus; comparable between frames of one optical path. */
  readonly sharpness: number;
  readonly detections: readonly Detection[];
  /** Single samples that no optics can have made, taken out before anything was measured, masked ones among them: indices of samples, ascending. */
  readonly outliers: Int32Array;
  /** The frame reduced to the flat field's grid, substrate pixels only, NaN where there are too few: food for the flat-field reducer. */
  readonly coarse: { readonly columns: number; readonly rows: number; readonly channels: number; readonly values: Float32Array };
}

export interface FrameToMeasure {
  readonly frame: CameraFrame;
  /** The same place at a shorter exposure: fills in what is saturated in `frame`. */
  readonly short?: CameraFrame;
  readonly pose: FramePose;
  readonly optics: OpticalContext;
}
