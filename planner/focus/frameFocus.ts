import type { FramePose, StagePoint } from '../units/index.ts';
import { distanceUm, pixelToStage } from '../units/index.ts';
import { zAtUm } from './surface.ts';
import type { FocusSurface } from './surface.ts';

/** Most heights at which one frame is taken: a chip that needs more must be levelled. */
export const MOST_SLICES = 4;

/** How the surface lies at one place, in mrad along the stage's axes. */
export interface Slope {
  readonly xMrad: number;
  readonly yMrad: number;
}

/** One height at which a frame is exposed, and which of the surface's heights it serves. */
export interface FocusSlice {
  readonly zUm: number;
  /** What of the frame lies between these heights is in focus in this exposure. */
  readonly fromUm: number;
  readonly toUm: number;
}

export interface FrameFocus {
  /** Rising. One for a frame that is in focus as a whole. */
  readonly slices: readonly FocusSlice[];
  /** Largest expected distance from focus in the frame, error included, in um. */
  readonly worstUm: number;
  /** Whether that is within half the depth of field. */
  readonly isSharp: boolean;
  /** Share of the frame's height differences that is in focus: 1 for a frame that is in focus as a whole. */
  readonly sharpShare: number;
}

/** Tilt of the surface at a place, from heights half a step to each side. */
export function slopeAt(surface: FocusSurface, at: StagePoint, stepUm = 100): Slope {
  const rise = (dx: number, dy: number): number =>
    (1000 * (zAtUm(surface, { xUm: at.xUm + dx / 2, yUm: at.yUm + dy / 2 }) - zAtUm(surface, { xUm: at.xUm - dx / 2, yUm: at.yUm - dy / 2 }))) / stepUm;
  return { xMrad: rise(stepUm, 0), yMrad: rise(0, stepUm) };
}

/**
 * Diagonal of the largest field that is in focus as a whole, in um: tilt times half the diagonal plus error <= half the depth of field
 * (geometry; the project's own rule). 0 where the error alone is too large, Infinity for no tilt.
 */
export function usableFieldUm(tiltMrad: number, errorUm: number, depthOfFieldUm: number): number {
  const leftUm = depthOfFieldUm / 2 - errorUm;
  return leftUm <= 0 ? 0 : (2 * leftUm) / (Math.abs(tiltMrad) / 1000);
}

/** Largest tilt that a field with this diagonal bears, in mrad; the same rule the other way round. */
export function largestTiltMrad(fieldDiagonalUm: number, errorUm: number, depthOfFieldUm: number): number {
  return (1000 * Math.max(0, depthOfFieldUm - 2 * errorUm)) / fieldDiagonalUm;
}

/**
 * At which heights a frame is to be exposed so that all of it is in focus. One height serves what lies within half the depth of field of
 * it, less the error; a frame whose corners differ by more is divided by height into equal slices, each
 * exposed in its middle: the used field of each exposure is a strip across the tilt.
 * @param offsetUm how far focus has moved since the surface was measured
 * @param errorUm what the surface and the drift may be wrong by
 * @param most heights at which a frame may be taken; 1 where it is not to be divided
 */
export function frameFocus(surface: FocusSurface, pose: FramePose, offsetUm: number, errorUm: number, depthOfFieldUm: number, most = MOST_SLICES): FrameFocus {
  const heights = rimOf(pose).map((point) => zAtUm(surface, point) + offsetUm);
  const lowUm = Math.min(...heights);
  const spanUm = Math.max(...heights) - lowUm;
  const halfUm = depthOfFieldUm / 2;
  const bearableUm = Math.max(0, halfUm - errorUm);
  // Where the error alone takes up most of the depth of field, more heights would not help against it.
  const wanted = Math.ceil(spanUm / (2 * Math.max(bearableUm, halfUm / 2)) - 1e-9);
  const count = Math.max(1, Math.min(most, wanted));
  const stepUm = spanUm / count;
  const slices = Array.from({ length: count }, (_, i) => ({ zUm: lowUm + stepUm * (i + 0.5), fromUm: lowUm + stepUm * i, toUm: lowUm + stepUm * (i + 1) }));
  const worstUm = stepUm / 2 + errorUm;
  return { slices, worstUm, isSharp: worstUm <= halfUm, sharpShare: spanUm > 0 ? Math.min(1, (2 * bearableUm * count) / spanUm) : 1 };
}

/** Corners, middles of the edges, and the middle of a frame: a bowed surface is highest or lowest at one of them, near enough. */
function rimOf(pose: FramePose): readonly StagePoint[] {
  return [0, 0.5, 1].flatMap((right) => [0, 0.5, 1].map((down) => pixelToStage(pose, { colPx: right * pose.widthPx, rowPx: down * pose.heightPx })));
}

/** Length of a frame's diagonal, in um. */
export function diagonalUm(pose: FramePose): number {
  return distanceUm(pixelToStage(pose, { colPx: 0, rowPx: 0 }), pixelToStage(pose, { colPx: pose.widthPx, rowPx: pose.heightPx }));
}

/** Which slice serves a height: the one that it lies in; those beyond the ends belong to the last. */
export function sliceOf(slices: readonly FocusSlice[], zUm: number): number {
  const at = slices.findIndex((slice) => zUm < slice.toUm);
  return at < 0 ? slices.length - 1 : at;
}
