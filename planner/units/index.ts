/**
 * Points, boxes and matrices with their unit in the name and their frame of reference in the type.
 *
 * Three frames of reference meet in Nightjar:
 * - `stage`: what the stage reports, in um; x to the right and y away from the operator, right-handed.
 * - `chip`: fixed to the chip, in um; it survives taking the chip off the stage.
 * - `image`: pixels of one camera frame, column to the right and row downwards, (0, 0) at the outer corner of the first pixel.
 */
export type FrameOfReference = 'stage' | 'chip';

/** A point in um. The phantom `of` keeps points of different frames apart for the compiler and never exists at run time. */
export interface PointUm<F extends FrameOfReference> {
  readonly xUm: number;
  readonly yUm: number;
  readonly of?: F;
}
export type StagePoint = PointUm<'stage'>;
export type ChipPoint = PointUm<'chip'>;

/** A place in a camera frame: the centre of the first pixel is (0.5, 0.5). */
export interface PixelPoint {
  readonly colPx: number;
  readonly rowPx: number;
}

/** An axis-parallel box in um of one frame of reference. */
export interface BoxUm<F extends FrameOfReference> {
  readonly xMinUm: number;
  readonly xMaxUm: number;
  readonly yMinUm: number;
  readonly yMaxUm: number;
  readonly of?: F;
}
export type StageBox = BoxUm<'stage'>;

/** A 2x2 matrix in row order [m00, m01, m10, m11]; as `cameraToStageUm` it turns pixels from the frame's centre into stage um. */
export type Matrix2 = readonly [number, number, number, number];

/** m times the vector (a, b). */
export function apply2(m: Matrix2, a: number, b: number): readonly [number, number] {
  return [m[0] * a + m[1] * b, m[2] * a + m[3] * b];
}

/** The inverse of m, or `undefined` when m is singular (determinant of zero). */
export function invert2(m: Matrix2): Matrix2 | undefined {
  const determinant = m[0] * m[3] - m[1] * m[2];
  if (determinant === 0 || !Number.isFinite(determinant)) return undefined;
  return [m[3] / determinant, -m[1] / determinant, -m[2] / determinant, m[0] / determinant];
}

/** Area of one pixel in um2: the absolute determinant of the camera-to-stage matrix. */
export function pixelAreaUm2(m: Matrix2): number {
  return Math.abs(m[0] * m[3] - m[1] * m[2]);
}

/** Where a frame was taken and how its pixels lie on the stage. */
export interface FramePose {
  readonly centreUm: StagePoint;
  readonly cameraToStageUm: Matrix2;
  readonly widthPx: number;
  readonly heightPx: number;
}

/** Stage position of a place in a frame; the inverse of {@link stageToPixel}. */
export function pixelToStage(pose: FramePose, p: PixelPoint): StagePoint {
  const [dx, dy] = apply2(pose.cameraToStageUm, p.colPx - pose.widthPx / 2, p.rowPx - pose.heightPx / 2);
  return { xUm: pose.centreUm.xUm + dx, yUm: pose.centreUm.yUm + dy };
}

/** Place in a frame of a stage position; the inverse of {@link pixelToStage}. Throws RangeError when the matrix is singular. */
export function stageToPixel(pose: FramePose, p: StagePoint): PixelPoint {
  const inverse = invert2(pose.cameraToStageUm);
  if (!inverse) throw new RangeError('cameraToStageUm is singular');
  const [dc, dr] = apply2(inverse, p.xUm - pose.centreUm.xUm, p.yUm - pose.centreUm.yUm);
  return { colPx: dc + pose.widthPx / 2, rowPx: dr + pose.heightPx / 2 };
}

/** Distance between two points of one frame of reference, in um. */
export function distanceUm<F extends FrameOfReference>(a: PointUm<F>, b: PointUm<F>): number {
  return Math.hypot(a.xUm - b.xUm, a.yUm - b.yUm);
}

/** The middle of several points of one frame of reference; not a number for none. */
export function meanPoint<F extends FrameOfReference>(points: readonly PointUm<F>[]): PointUm<F> {
  const sum = points.reduce((all, p) => ({ xUm: all.xUm + p.xUm, yUm: all.yUm + p.yUm }), { xUm: 0, yUm: 0 });
  return { xUm: sum.xUm / points.length, yUm: sum.yUm / points.length };
}
