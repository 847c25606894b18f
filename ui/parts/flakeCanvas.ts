import type { FlakeView } from '../../daemon/server/messages.ts';
import { terraceMark } from '../chart/lanes.ts';
import { layerTone } from '../layerRamp.ts';
import { INK } from '../map/ink.ts';
import { outlineInPixels } from '../pictures/pose.ts';
import type { Placement } from '../pictures/pose.ts';
import type { Bar } from '../../planner/geometry/inscribedRectangle.ts';
import type { FramePose, StagePoint } from '../../planner/units/index.ts';

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
  /** Outlines say nothing of the layer number. */
  readonly veiled: boolean;
  /** A bar to be drawn where it fits. */
  readonly bar?: Bar<'stage'> | undefined;
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
  if (drawing.bar) drawBar(context, drawing, drawing.bar);
}

/** Base terrace first, thinner ones on top last. */
function drawOutlines(context: CanvasRenderingContext2D, drawing: FlakeDrawing): void {
  context.lineJoin = 'round';
  const { view, veiled } = drawing;
  for (const terrace of view.flake.terraces) {
    const tone = layerTone(view.flake.verdict === 'rejected' ? 'none' : veiled ? 'hidden' : terraceMark(terrace));
    trace(context, drawing, [terrace.outlineUm, ...(terrace.holesUm ?? [])]);
    context.strokeStyle = tone.casing;
    context.lineWidth = 4.6;
    context.stroke();
    context.strokeStyle = tone.fill;
    context.lineWidth = 2.2;
    context.stroke();
  }
}

/** Begins a path of closed rings. */
function trace(context: CanvasRenderingContext2D, { pose, placement }: FlakeDrawing, ringsUm: readonly (readonly StagePoint[])[]): void {
  context.beginPath();
  for (const ringUm of ringsUm) {
    outlineInPixels(pose, ringUm).forEach(({ colPx, rowPx }, i) => {
      const x = placement.x0 + colPx * placement.scale;
      const y = placement.y0 + rowPx * placement.scale;
      if (i === 0) context.moveTo(x, y);
      else context.lineTo(x, y);
    });
    context.closePath();
  }
}

/** The wanted bar where it fits best: a dashed line with a casing, unlike any terrace. */
function drawBar(context: CanvasRenderingContext2D, drawing: FlakeDrawing, bar: Bar<'stage'>): void {
  trace(context, drawing, [barCorners(bar)]);
  context.strokeStyle = INK.casing;
  context.lineWidth = 4;
  context.stroke();
  context.setLineDash([6, 4]);
  context.strokeStyle = INK.casingLight;
  context.lineWidth = 1.8;
  context.stroke();
  context.setLineDash([]);
}

/** The four corners of a bar, in order. */
export function barCorners({ centreUm, lengthUm, widthUm, angleDeg }: Bar<'stage'>): readonly StagePoint[] {
  const [cos, sin] = [Math.cos((angleDeg * Math.PI) / 180), Math.sin((angleDeg * Math.PI) / 180)];
  return ([[-1, -1], [1, -1], [1, 1], [-1, 1]] as const).map(([along, across]) => {
    const [u, v] = [(along * lengthUm) / 2, (across * widthUm) / 2];
    return { xUm: centreUm.xUm + cos * u - sin * v, yUm: centreUm.yUm + sin * u + cos * v };
  });
}
