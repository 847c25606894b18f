import { containsPoint, distanceToEdgeUm } from '../geometry/measure.ts';
import { apply2, pixelToStage, stageToPixel } from '../units/index.ts';
import type { ChipPoint, FramePose } from '../units/index.ts';
import { toChip, toStage } from './chipFrame.ts';
import type { ChipFrame } from './chipFrame.ts';
import type { GreyPicture } from './greyPicture.ts';

/** A picture and how its own pixels lay on the stage when it was taken. */
export interface PlacedPicture {
  readonly picture: GreyPicture;
  readonly pose: FramePose;
}

/** A view of a chip as it should look, put together from earlier pictures. */
export interface ExpectedView {
  readonly picture: GreyPicture;
  /** Share of the view that the earlier pictures show. */
  readonly covered: number;
}

/**
 * How a chip that lies on the stage anew should look in a frame, from pictures taken when it lay as `then` says: each pixel from the first
 * picture that shows its place, by its four nearest pixels; 0 where none does (the pictures are taken as levelled about 0, see
 * {@link levelled}). Rotation, mirror and pixel size may differ as they like.
 * @param view the frame to come
 * @param now how the chip is believed to lie
 */
export function expectedView(view: FramePose, now: ChipFrame, pictures: readonly PlacedPicture[], then: ChipFrame): ExpectedView {
  const { widthPx, heightPx } = view;
  const data = new Float32Array(widthPx * heightPx);
  const filled = new Uint8Array(widthPx * heightPx);
  let count = 0;
  for (const { picture, pose } of pictures) {
    const place = fromView(view, now, pose, then);
    for (let row = 0; row < heightPx; row += 1) {
      for (let col = 0; col < widthPx; col += 1) {
        const i = row * widthPx + col;
        if (filled[i]) continue;
        const value = sample(picture, place.col0 + place.colPerCol * col + place.colPerRow * row, place.row0 + place.rowPerCol * col + place.rowPerRow * row);
        if (value === undefined) continue;
        data[i] = value;
        filled[i] = 1;
        count += 1;
      }
    }
  }
  return { picture: { widthPx, heightPx, data }, covered: count / (widthPx * heightPx) };
}

/** Pixels of the picture for pixel centres of the view: both lie flat, so the way from one to the other is affine. */
function fromView(view: FramePose, now: ChipFrame, pose: FramePose, then: ChipFrame) {
  const through = (colPx: number, rowPx: number) => stageToPixel(pose, toStage(then, toChip(now, pixelToStage(view, { colPx, rowPx }))));
  const [origin, right, down] = [through(0.5, 0.5), through(1.5, 0.5), through(0.5, 1.5)];
  return { col0: origin.colPx, row0: origin.rowPx, colPerCol: right.colPx - origin.colPx, rowPerCol: right.rowPx - origin.rowPx, colPerRow: down.colPx - origin.colPx, rowPerRow: down.rowPx - origin.rowPx };
}

/** Value at a place, (0.5, 0.5) being the middle of the first pixel; undefined outside. */
function sample({ widthPx, heightPx, data }: GreyPicture, colPx: number, rowPx: number): number | undefined {
  const [x, y] = [colPx - 0.5, rowPx - 0.5];
  const [col, row] = [Math.floor(x), Math.floor(y)];
  if (col < 0 || row < 0 || col + 1 >= widthPx || row + 1 >= heightPx) return undefined;
  const [u, v] = [x - col, y - row];
  const at = row * widthPx + col;
  const upper = (data[at] as number) * (1 - u) + (data[at + 1] as number) * u;
  const lower = (data[at + widthPx] as number) * (1 - u) + (data[at + widthPx + 1] as number) * u;
  return upper * (1 - v) + lower * v;
}

/**
 * Takes out of a view, as 0, what lies beyond a chip's edge or within a rim of it: all chips have straight edges, and pictures of two would
 * be found alike by them alone.
 * @param outline the chip's edge in its own frame
 */
export function withoutRim(view: PlacedPicture, now: ChipFrame, outline: readonly ChipPoint[], rimUm: number): GreyPicture {
  const { widthPx, heightPx, data } = view.picture;
  const out = new Float32Array(data.length);
  for (let row = 0; row < heightPx; row += 1) {
    for (let col = 0; col < widthPx; col += 1) {
      const place = toChip(now, pixelToStage(view.pose, { colPx: col + 0.5, rowPx: row + 0.5 }));
      const i = row * widthPx + col;
      if (containsPoint(outline, place) && distanceToEdgeUm(outline, place) >= rimUm) out[i] = data[i] as number;
    }
  }
  return { widthPx, heightPx, data: out };
}

/** How far the chip lies from where it was believed, in stage um, for a shift of its picture against the expected one. */
export function shiftOnStageUm(view: FramePose, shift: { readonly colPx: number; readonly rowPx: number }): { readonly xUm: number; readonly yUm: number } {
  const [xUm, yUm] = apply2(view.cameraToStageUm, shift.colPx, shift.rowPx);
  return { xUm, yUm };
}

/** The same picture in squares of `factor` pixels, each the mean of its pixels, and its pose. */
export function binned({ picture, pose }: PlacedPicture, factor: number): PlacedPicture {
  if (factor <= 1) return { picture, pose };
  const [widthPx, heightPx] = [Math.floor(picture.widthPx / factor), Math.floor(picture.heightPx / factor)];
  const data = new Float32Array(widthPx * heightPx);
  for (let row = 0; row < heightPx * factor; row += 1) {
    for (let col = 0; col < widthPx * factor; col += 1) {
      const i = Math.floor(row / factor) * widthPx + Math.floor(col / factor);
      data[i] = (data[i] as number) + (picture.data[row * picture.widthPx + col] as number) / factor ** 2;
    }
  }
  const [m00, m01, m10, m11] = pose.cameraToStageUm;
  // Cut to whole squares, the middle of the picture moves by half of what was cut off.
  const middle = pixelToStage(pose, { colPx: (widthPx * factor) / 2, rowPx: (heightPx * factor) / 2 });
  return { picture: { widthPx, heightPx, data }, pose: { centreUm: middle, cameraToStageUm: [m00 * factor, m01 * factor, m10 * factor, m11 * factor], widthPx, heightPx } };
}

/** Each value as its departure from the mean around it (a square of 2 r + 1), as a share of that: uneven light is gone, and brightness with it. */
export function levelled({ widthPx, heightPx, data }: GreyPicture, radiusPx: number): GreyPicture {
  // Sums of everything above and to the left, one row and column more than the picture.
  const sums = new Float64Array((widthPx + 1) * (heightPx + 1));
  for (let row = 0; row < heightPx; row += 1) {
    let line = 0;
    for (let col = 0; col < widthPx; col += 1) {
      line += data[row * widthPx + col] as number;
      sums[(row + 1) * (widthPx + 1) + col + 1] = (sums[row * (widthPx + 1) + col + 1] as number) + line;
    }
  }
  const out = new Float32Array(widthPx * heightPx);
  for (let row = 0; row < heightPx; row += 1) {
    const [top, bottom] = [Math.max(0, row - radiusPx), Math.min(heightPx, row + radiusPx + 1)];
    for (let col = 0; col < widthPx; col += 1) {
      const [left, right] = [Math.max(0, col - radiusPx), Math.min(widthPx, col + radiusPx + 1)];
      const at = (r: number, c: number): number => sums[r * (widthPx + 1) + c] as number;
      const mean = (at(bottom, right) - at(top, right) - at(bottom, left) + at(top, left)) / ((bottom - top) * (right - left));
      out[row * widthPx + col] = mean > 0 ? (data[row * widthPx + col] as number) / mean - 1 : 0;
    }
  }
  return { widthPx, heightPx, data: out };
}

/** Pictures less alike than this are of two places. */
export const LEAST_LIKENESS = 0.5;
/** Departures are cut at this, so that no single dark spot decides. */
const CUT_AT = 0.2;
/** Half the side of the square over which pixels are averaged: noise goes, flakes and dust stay. */
const SOFT_PX = 2;

/**
 * How alike two levelled pictures are once one is shifted onto the other: their correlation coefficient over what both show (values of 0 are
 * what neither is asked about), noise averaged out. 1 for the same picture, about 0 for two that have nothing in common.
 */
export function likeness(first: GreyPicture, second: GreyPicture, shift: { readonly colPx: number; readonly rowPx: number }): number {
  return correlation(first, softened(first), second, softened(second), shift);
}

/** The shift within reach of another one at which two levelled pictures are most alike, every whole pixel tried. */
export function mostAlike(first: GreyPicture, second: GreyPicture, around: { readonly colPx: number; readonly rowPx: number }, reachPx: number): { readonly colPx: number; readonly rowPx: number; readonly likeness: number } {
  const [a, b] = [softened(first), softened(second)];
  let best = { ...around, likeness: -1 };
  for (let dr = -reachPx; dr <= reachPx; dr += 1) {
    for (let dc = -reachPx; dc <= reachPx; dc += 1) {
      const shift = { colPx: around.colPx + dc, rowPx: around.rowPx + dr };
      const alike = correlation(first, a, second, b, shift);
      if (alike > best.likeness) best = { ...shift, likeness: alike };
    }
  }
  return best;
}

function correlation(first: GreyPicture, a: Float32Array, second: GreyPicture, b: Float32Array, shift: { readonly colPx: number; readonly rowPx: number }): number {
  const [dc, dr] = [Math.round(shift.colPx), Math.round(shift.rowPx)];
  const [left, right] = [Math.max(0, -dc), Math.min(first.widthPx, second.widthPx - dc)];
  const [top, bottom] = [Math.max(0, -dr), Math.min(first.heightPx, second.heightPx - dr)];
  // One after the other, not as a list: this is the inner loop of a search over hundreds of shifts.
  let count = 0;
  let sa = 0;
  let sb = 0;
  let aa = 0;
  let bb = 0;
  let ab = 0;
  for (let row = top; row < bottom; row += 1) {
    const across = (row + dr) * second.widthPx + dc - row * first.widthPx;
    for (let i = row * first.widthPx + left, end = row * first.widthPx + right; i < end; i += 1) {
      if (first.data[i] === 0 || second.data[i + across] === 0) continue;
      const u = a[i] as number;
      const v = b[i + across] as number;
      count += 1;
      sa += u;
      sb += v;
      aa += u * u;
      bb += v * v;
      ab += u * v;
    }
  }
  const spread = Math.sqrt((aa - (sa * sa) / count) * (bb - (sb * sb) / count));
  return count > 0 && spread > 0 ? (ab - (sa * sb) / count) / spread : 0;
}

/** Cut and averaged over a small square. */
function softened({ widthPx, heightPx, data }: GreyPicture): Float32Array {
  const across = new Float32Array(data.length);
  const out = new Float32Array(data.length);
  const side = 2 * SOFT_PX + 1;
  for (let row = 0; row < heightPx; row += 1) {
    for (let col = 0; col < widthPx; col += 1) {
      let sum = 0;
      for (let d = -SOFT_PX; d <= SOFT_PX; d += 1) sum += Math.max(-CUT_AT, Math.min(CUT_AT, data[row * widthPx + Math.max(0, Math.min(widthPx - 1, col + d))] as number));
      across[row * widthPx + col] = sum / side;
    }
  }
  for (let row = 0; row < heightPx; row += 1) {
    for (let col = 0; col < widthPx; col += 1) {
      let sum = 0;
      for (let d = -SOFT_PX; d <= SOFT_PX; d += 1) sum += across[Math.max(0, Math.min(heightPx - 1, row + d)) * widthPx + col] as number;
      out[row * widthPx + col] = sum / side;
    }
  }
  return out;
}
