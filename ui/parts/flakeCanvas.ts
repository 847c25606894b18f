import type { FlakeView } from '../../daemon/server/messages.ts';
import { terraceMark } from '../chart/lanes.ts';
import { layerTone } from '../layerRamp.ts';
import { outlineInPixels } from '../pictures/pose.ts';
import type { Placement } from '../pictures/pose.ts';
import type { FramePose } from '../../planner/units/index.ts';

export interface FlakeDrawing {
  readonly canvas: HTMLCanvasElement;
  readonly width: number;
  readonly height: number;
  readonly pixelRatio: number;
  readonly source: HTMLCanvasElement | ImageBitmap;
  readonly pose: FramePose;
  readonly placement: Placement;
  readonly view: FlakeView;
  readonly outline: boolean;
}

/** From this scale on the camera's pixels are shown as they are: smoothing would only pretend to more. */
const PLAIN_PIXELS_FROM = 3;

/** Draws the large picture of a flake and, where wanted, its terraces over it. */
export function drawFlake(drawing: FlakeDrawing): void {
  const { canvas, width, height, pixelRatio, source, pose, placement } = drawing;
  const context = canvas.getContext('2d');
  if (!context) return;
  canvas.width = Math.round(width * pixelRatio);
  canvas.height = Math.round(height * pixelRatio);
  context.setTransform(pixelRatio, 0, 0, pixelRatio, 0, 0);
  context.imageSmoothingEnabled = placement.scale < PLAIN_PIXELS_FROM;
  context.imageSmoothingQuality = 'high';
  context.drawImage(source, placement.x0, placement.y0, pose.widthPx * placement.scale, pose.heightPx * placement.scale);
  if (drawing.outline) drawOutlines(context, drawing);
}

/** Base terrace first, thinner ones on top last. */
function drawOutlines(context: CanvasRenderingContext2D, { view, pose, placement }: FlakeDrawing): void {
  context.lineJoin = 'round';
  for (const terrace of view.flake.terraces) {
    const tone = layerTone(view.flake.verdict === 'rejected' ? 'none' : terraceMark(terrace));
    context.beginPath();
    outlineInPixels(pose, terrace.outlineUm).forEach(({ colPx, rowPx }, i) => {
      const x = placement.x0 + colPx * placement.scale;
      const y = placement.y0 + rowPx * placement.scale;
      if (i === 0) context.moveTo(x, y);
      else context.lineTo(x, y);
    });
    context.closePath();
    context.strokeStyle = tone.casing;
    context.lineWidth = 4.6;
    context.stroke();
    context.strokeStyle = tone.fill;
    context.lineWidth = 2.2;
    context.stroke();
  }
}
