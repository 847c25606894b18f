import type { FlakeView, RunView, TileView } from '../../daemon/server/messages.ts';
import { stageToPixel } from '../../planner/units/index.ts';
import type { FramePose, PixelPoint, StagePoint } from '../../planner/units/index.ts';
import type { LiveView } from '../state/night.ts';

/** Where the picture cut round a flake lies on the stage. */
export function cropPose(crop: NonNullable<FlakeView['crop']>): FramePose {
  return { centreUm: crop.centreUm, cameraToStageUm: crop.cameraToStageUm, widthPx: crop.widthPx, heightPx: crop.heightPx };
}

/** Where a live picture lies on the stage: a whole frame. */
export function livePose(live: LiveView, run: RunView): FramePose {
  return { centreUm: live.centreUm, cameraToStageUm: run.cameraToStageUm, widthPx: run.frameWidthPx, heightPx: run.frameHeightPx };
}

/** Where the map picture of a tile lies on the stage, whatever its own size: a whole frame. */
export function tilePose(tile: TileView, run: RunView): FramePose {
  return { centreUm: tile.centreUm, cameraToStageUm: run.cameraToStageUm, widthPx: run.frameWidthPx, heightPx: run.frameHeightPx };
}

/** um on the stage along one side of a camera pixel: the root of its area. */
export function pixelSizeUm(pose: FramePose): number {
  const m = pose.cameraToStageUm;
  return Math.sqrt(Math.abs(m[0] * m[3] - m[1] * m[2]));
}

/** An outline in the frame's pixels. */
export function outlineInPixels(pose: FramePose, outlineUm: readonly StagePoint[]): readonly PixelPoint[] {
  return outlineUm.map((point) => stageToPixel(pose, point));
}

/** True for a place inside a closed polygon (even-odd rule), all in pixels. */
export function insideOutline(outline: readonly PixelPoint[], colPx: number, rowPx: number): boolean {
  let inside = false;
  let b = outline[outline.length - 1];
  for (const a of outline) {
    if (b && a.rowPx > rowPx !== b.rowPx > rowPx && colPx < a.colPx + ((rowPx - a.rowPx) * (b.colPx - a.colPx)) / (b.rowPx - a.rowPx)) inside = !inside;
    b = a;
  }
  return inside;
}

/** How a frame is put on the screen: its pixel (colPx, rowPx) comes to (x0 + colPx * scale, y0 + rowPx * scale). */
export interface Placement {
  readonly scale: number;
  readonly x0: number;
  readonly y0: number;
}

/** A pixel of the camera is never drawn larger than this, in screen px: beyond, there is nothing more to see. */
const MOST_SCALE = 5;
/** Bare substrate wanted round a flake, um to each side, and the least share of its own size. */
const RIM_UM = 12;
const LEAST_RIM = 0.07;
const LEAST_SPAN_UM = 40;

export interface PictureScaleRequest {
  readonly flakeSpanUm: number;
  /** What the stored picture covers on the stage, where there is one. */
  readonly cropUm?: { readonly widthUm: number; readonly heightUm: number };
  readonly pixelUm: number;
  readonly viewWidth: number;
  readonly viewHeight: number;
}

/**
 * um per screen px at which a flake is shown: with a rim of substrate round it, or nearer where that makes the stored picture
 * fill the view. It hangs on the flake and its stored picture only, so that a live picture comes at the same scale and in the same place.
 */
export function pictureScale({ flakeSpanUm, cropUm, pixelUm, viewWidth, viewHeight }: PictureScaleRequest): number {
  const side = Math.min(viewWidth, viewHeight);
  const withRim = Math.max(LEAST_SPAN_UM, flakeSpanUm + 2 * RIM_UM) / side;
  const nearest = Math.max(LEAST_SPAN_UM * 0.75, flakeSpanUm * (1 + 2 * LEAST_RIM)) / side;
  const filling = cropUm ? Math.min(cropUm.widthUm / viewWidth, cropUm.heightUm / viewHeight) : withRim;
  return Math.max(pixelUm / MOST_SCALE, Math.min(withRim, Math.max(nearest, filling)));
}

/** um per screen px at which a picture is all in the view, no larger than `MOST_SCALE` allows. */
export function wholePictureScale(pose: FramePose, viewWidth: number, viewHeight: number): number {
  const pixelUm = pixelSizeUm(pose);
  return Math.max(pixelUm / MOST_SCALE, (pose.widthPx * pixelUm) / viewWidth, (pose.heightPx * pixelUm) / viewHeight);
}

/** Puts the place `centreUm` in the middle of a view, at so many um per screen px. */
export function place(pose: FramePose, centreUm: StagePoint, umPerPx: number, viewWidth: number, viewHeight: number): Placement {
  const scale = pixelSizeUm(pose) / umPerPx;
  const centre = stageToPixel(pose, centreUm);
  return { scale, x0: viewWidth / 2 - centre.colPx * scale, y0: viewHeight / 2 - centre.rowPx * scale };
}

/** The middle and the longest side of the box round a flake's terraces, stage um; `undefined` when there are none. */
export function boxOf(outlines: readonly (readonly StagePoint[])[]): { readonly centreUm: StagePoint; readonly spanUm: number } | undefined {
  const xs = outlines.flat().map((p) => p.xUm);
  const ys = outlines.flat().map((p) => p.yUm);
  if (xs.length === 0) return undefined;
  const [left, right, low, high] = [Math.min(...xs), Math.max(...xs), Math.min(...ys), Math.max(...ys)];
  return { centreUm: { xUm: (left + right) / 2, yUm: (low + high) / 2 }, spanUm: Math.max(right - left, high - low) };
}

/** Length all round a closed outline, um. */
export function outlineLengthUm(outlineUm: readonly StagePoint[]): number {
  let total = 0;
  let before = outlineUm[outlineUm.length - 1];
  for (const point of outlineUm) {
    if (before) total += Math.hypot(point.xUm - before.xUm, point.yUm - before.yUm);
    before = point;
  }
  return total;
}
