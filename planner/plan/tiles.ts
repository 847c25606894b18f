import { boundingBox } from '../geometry/polygon.ts';
import type { Polygon } from '../geometry/polygon.ts';
import { apply2, invert2 } from '../units/index.ts';
import type { Matrix2, StagePoint } from '../units/index.ts';
import { joinSpans, middlesOver, spansInBand, tilesOver } from './spans.ts';
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

/**
 * Tiles that cover the areas: parallel strips, each a chain of tiles in the order of its axis.
 *
 * Everything is done in the camera's own axes (in pixels), so that rotation, mirroring and shear of the camera against the stage need
 * no care: there a tile is an upright box. Strips are evenly spread over the areas' extent and overlap by at least `overlap` of the
 * frame's side; each strip covers only the stretches where the areas reach into it, again with at least that overlap. So every place of
 * the areas lies in a tile and no tile lies wholly outside.
 * @param areasUm simple polygons in stage um
 * @param overlap share of a frame's side, 0 to 0.5
 * Throws RangeError when the camera's matrix is singular.
 */
export function tileStrips(areasUm: readonly Polygon<'stage'>[], view: CameraView, overlap: number, direction: StripDirection): readonly (readonly Place[])[] {
  const grid = stripGrid(view, direction);
  const areas = areasUm.map((area) => area.map(grid.fromStage));
  if (areas.length === 0) return [];
  const box = boundingBox(areas.flat());
  const step = (1 - overlap) * grid.sidePx;
  const bands = middlesOver({ from: box.yMinUm, to: box.yMaxUm }, grid.acrossPx, (1 - overlap) * grid.acrossPx);
  const strips = bands.map((middle) =>
    chainSpans(spansInBand(areas, middle - grid.acrossPx / 2, middle + grid.acrossPx / 2), grid.sidePx, step)
      .flatMap((span) => middlesOver(span, grid.sidePx, step))
      .map((along) => grid.toStage(along, middle)),
  );
  return strips
    .filter((strip) => strip.length > 0)
    .map((strip, across) =>
      strip.map((centreUm, along) => (direction === 'width' ? { row: across, column: along, centreUm } : { row: along, column: across, centreUm })),
    );
}

interface StripGrid {
  /** Length of a frame along the strips and across them, in pixels. */
  readonly sidePx: number;
  readonly acrossPx: number;
  /** Stage um to pixels: x along the strips, y across. The names of a stage point are kept for want of a third frame of reference. */
  readonly fromStage: (point: StagePoint) => StagePoint;
  readonly toStage: (along: number, across: number) => StagePoint;
}

function stripGrid(view: CameraView, direction: StripDirection): StripGrid {
  const [m00, m01, m10, m11] = view.cameraToStageUm;
  const matrix: Matrix2 = direction === 'width' ? [m00, m01, m10, m11] : [m01, m00, m11, m10];
  const inverse = invert2(matrix);
  if (!inverse) throw new RangeError('cameraToStageUm is singular');
  return {
    sidePx: direction === 'width' ? view.widthPx : view.heightPx,
    acrossPx: direction === 'width' ? view.heightPx : view.widthPx,
    fromStage: (point) => {
      const [xUm, yUm] = apply2(inverse, point.xUm, point.yUm);
      return { xUm, yUm };
    },
    toStage: (along, across) => {
      const [xUm, yUm] = apply2(matrix, along, across);
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
