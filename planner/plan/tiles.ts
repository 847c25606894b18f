import { boundingBox } from '../geometry/polygon.ts';
import type { Polygon } from '../geometry/polygon.ts';
import { apply2, invert2 } from '../units/index.ts';
import type { Matrix2, StagePoint } from '../units/index.ts';
import { joinSpans, middlesOver, spansFilled, spansInBand, tilesOver, withoutSpans } from './spans.ts';
import type { Span } from './spans.ts';

/** One camera's frame: its size and how it lies on the stage. */
export interface CameraView {
  readonly widthPx: number;
  readonly heightPx: number;
  readonly cameraToStageUm: Matrix2;
}

/** Where one frame is to be taken. Rows follow the frame's height, columns its width; each row of tiles has its own columns. */
export interface Place {
  readonly row: number;
  readonly column: number;
  readonly centreUm: StagePoint;
}

/** Whether strips of tiles run along the frame's width or along its height. */
export type StripDirection = 'width' | 'height';

/** How one layout of strips runs. */
export interface StripCourse {
  readonly direction: StripDirection;
  /** Rise of the strips against the frame's own side, in pixels across per pixel along; 0 for strips along that side. */
  readonly slant: number;
}

/**
 * Tiles that cover the areas but for what is skipped: parallel strips, each a chain of tiles in the order of its axis.
 *
 * Everything is done in the camera's own axes (in pixels), so that rotation, mirroring and shear of the camera against the stage need
 * no care: there a tile is an upright box. A slant shears these axes along the strips; of each frame then counts the sheared box that it
 * holds, lower than the frame by its width times the slant. Strips are evenly spread over the areas' extent and overlap so that a box of
 * `overlap` times the frame's sides lies wholly in one frame wherever it lies; each strip covers only the stretches where the areas reach
 * into it, again with at least that overlap. So every place of the areas that is not skipped lies in a tile, and no tile lies wholly outside.
 * @param areasUm simple polygons in stage um
 * @param skipUm simple polygons; a tile that only they hold is left out
 * @param overlap share of a frame's side, 0 to 0.5
 * Throws RangeError when the camera's matrix is singular.
 */
export function tileStrips(areasUm: readonly Polygon<'stage'>[], skipUm: readonly Polygon<'stage'>[], view: CameraView, overlap: number, course: StripCourse): readonly (readonly Place[])[] {
  const grid = stripGrid(view, overlap, course);
  const areas = areasUm.map((area) => area.map(grid.fromStage));
  const skip = skipUm.map((area) => area.map(grid.fromStage));
  if (areas.length === 0) return [];
  const box = boundingBox(areas.flat());
  const bands = middlesOver({ from: box.yMinUm, to: box.yMaxUm }, grid.acrossPx, grid.stepAcrossPx);
  const strips = bands.map((middle) => {
    const [low, high] = [middle - grid.acrossPx / 2, middle + grid.acrossPx / 2];
    return chainSpans(withoutSpans(spansInBand(areas, low, high), spansFilled(skip, low, high)), grid.sidePx, grid.stepPx)
      .flatMap((span) => middlesOver(span, grid.sidePx, grid.stepPx))
      .map((along) => grid.toStage(along, middle));
  });
  return strips
    .filter((strip) => strip.length > 0)
    .map((strip, across) =>
      strip.map((centreUm, along) => (course.direction === 'width' ? { row: across, column: along, centreUm } : { row: along, column: across, centreUm })),
    );
}

interface StripGrid {
  /** Length of a frame along the strips, and what counts of it across them, in pixels. */
  readonly sidePx: number;
  readonly acrossPx: number;
  /** Largest distance of neighbouring tiles' middles along the strips, and of strips. */
  readonly stepPx: number;
  readonly stepAcrossPx: number;
  /** Stage um to pixels: x along the strips, y across. The names of a stage point are kept for want of a third frame of reference. */
  readonly fromStage: (point: StagePoint) => StagePoint;
  readonly toStage: (along: number, across: number) => StagePoint;
}

/** A frame's sides along and across the strips of a direction, in pixels. */
export function sidesPx({ widthPx, heightPx }: CameraView, direction: StripDirection): readonly [along: number, across: number] {
  return direction === 'width' ? [widthPx, heightPx] : [heightPx, widthPx];
}

/** Camera to stage with the side along the strips first. */
export function stripMatrix({ cameraToStageUm: [m00, m01, m10, m11] }: CameraView, direction: StripDirection): Matrix2 {
  return direction === 'width' ? [m00, m01, m10, m11] : [m01, m00, m11, m10];
}

function stripGrid(view: CameraView, overlap: number, { direction, slant }: StripCourse): StripGrid {
  const matrix = stripMatrix(view, direction);
  const inverse = invert2(matrix);
  if (!inverse) throw new RangeError('cameraToStageUm is singular');
  const [sidePx, fullAcrossPx] = sidesPx(view, direction);
  const acrossPx = fullAcrossPx - sidePx * Math.abs(slant);
  return {
    sidePx,
    acrossPx,
    stepPx: (1 - overlap) * sidePx,
    stepAcrossPx: acrossPx - overlap * (fullAcrossPx + sidePx * Math.abs(slant)),
    fromStage: (point) => {
      const [xUm, across] = apply2(inverse, point.xUm, point.yUm);
      return { xUm, yUm: across - slant * xUm };
    },
    toStage: (along, across) => {
      const [xUm, yUm] = apply2(matrix, along, across + slant * along);
      return { xUm, yUm };
    },
  };
}

/** Stretches to be covered as one chain: a gap narrower than a tile is bridged where that takes no more tiles. */
function chainSpans(spans: readonly Span[], side: number, step: number): readonly Span[] {
  const wide = spans.filter((span) => span.to - span.from > side * 1e-9);
  return joinSpans(wide, (left, right) => {
    const apart = tilesOver(left.to - left.from, side, step) + tilesOver(right.to - right.from, side, step);
    return right.from - left.to < side && tilesOver(right.to - left.from, side, step) <= apart;
  });
}
