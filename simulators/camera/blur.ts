import { BLOCK_PX, type Canvas } from './canvas.ts';

/** Blurs narrower than this do not show. */
const LEAST_SIGMA_PX = 0.2;
const MOST_SIGMA_PX = 24;

/** Half of a Gaussian's weights, from its middle outwards, so that the whole adds up to 1. */
function gaussianHalf(sigmaPx: number): Float32Array {
  const reach = Math.max(1, Math.ceil(sigmaPx * 3));
  const half = Float32Array.from({ length: reach + 1 }, (_, i) => Math.exp(-(i * i) / (2 * sigmaPx * sigmaPx)));
  const sum = half.reduce((total, weight, i) => total + (i === 0 ? weight : 2 * weight), 0);
  return half.map((weight) => weight / sum);
}

/** What each blurring needs of memory, kept from one block to the next. */
interface Workspace {
  /** The rows of a block and of its surroundings, blurred across. */
  rows: Float32Array;
  /** One row with what lies beside it, as far as the kernel reaches. */
  padded: Float32Array;
}

interface Block {
  readonly x0: number;
  readonly y0: number;
  readonly x1: number;
  readonly y1: number;
}

/** A row of the canvas from `reach` pixels before x0 to as many behind x1; beyond the rim its last pixel again. */
function fillPadded({ width, values }: Canvas, row: number, { x0, x1 }: Block, reach: number, padded: Float32Array): void {
  let i = 0;
  for (let x = x0 - reach; x < x1 + reach; x++) {
    const at = (row * width + Math.min(Math.max(x, 0), width - 1)) * 3;
    padded[i++] = values[at] as number;
    padded[i++] = values[at + 1] as number;
    padded[i++] = values[at + 2] as number;
  }
}

/**
 * Three samples at a time from `at` on: each the sum of its neighbours by their weights, `apart` samples from one to the next. Three sums
 * share a weight, which is quicker than one after the other.
 */
function weigh(from: Float32Array, at: number, apart: number, half: Float32Array, out: Float32Array, to: number): void {
  const first = half[0] as number;
  let a = (from[at] as number) * first;
  let b = (from[at + 1] as number) * first;
  let c = (from[at + 2] as number) * first;
  for (let k = 1, before = at - apart, behind = at + apart; k < half.length; k++, before -= apart, behind += apart) {
    const weight = half[k] as number;
    a += weight * ((from[before] as number) + (from[behind] as number));
    b += weight * ((from[before + 1] as number) + (from[behind + 1] as number));
    c += weight * ((from[before + 2] as number) + (from[behind + 2] as number));
  }
  out[to] = a;
  out[to + 1] = b;
  out[to + 2] = c;
}

/**
 * Blurs along the rows of a block and of as many rows above and below as the kernel reaches, into the workspace. Rows beyond the rim are the
 * last row again.
 */
function blurAcross(canvas: Canvas, block: Block, half: Float32Array, space: Workspace): void {
  const reach = half.length - 1;
  const stride = (block.x1 - block.x0) * 3;
  const top = block.y0 - reach;
  const needed = stride * (block.y1 - block.y0 + 2 * reach);
  if (space.rows.length < needed) space.rows = new Float32Array(needed);
  if (space.padded.length < stride + 6 * reach) space.padded = new Float32Array(stride + 6 * reach);
  const [first, last] = [Math.max(0, top), Math.min(canvas.height, block.y1 + reach) - 1];
  for (let y = first; y <= last; y++) {
    const to = (y - top) * stride;
    fillPadded(canvas, y, block, reach, space.padded);
    for (let i = 0; i < stride; i += 3) weigh(space.padded, 3 * reach + i, 3, half, space.rows, to + i);
  }
  for (let y = top; y < first; y++) space.rows.copyWithin((y - top) * stride, (first - top) * stride, (first - top + 1) * stride);
  for (let y = last + 1; y < block.y1 + reach; y++) space.rows.copyWithin((y - top) * stride, (last - top) * stride, (last - top + 1) * stride);
}

/** Blurs down the columns of what the workspace holds, into `out` (a whole frame). */
function blurDown(canvas: Canvas, block: Block, half: Float32Array, space: Workspace, out: Float32Array): void {
  const reach = half.length - 1;
  const stride = (block.x1 - block.x0) * 3;
  for (let y = block.y0; y < block.y1; y++) {
    const from = (y - block.y0 + reach) * stride;
    const to = (y * canvas.width + block.x0) * 3;
    for (let i = 0; i < stride; i += 3) weigh(space.rows, from + i, stride, half, out, to + i);
  }
}

/** True when the block or one that its blur reaches was painted on; elsewhere the canvas is even, and blurring changes nothing. */
function isNearPaint(canvas: Canvas, across: number, down: number, blocks: number): boolean {
  for (let d = Math.max(0, down - blocks); d <= Math.min(canvas.blocksDown - 1, down + blocks); d++) {
    for (let a = Math.max(0, across - blocks); a <= Math.min(canvas.blocksAcross - 1, across + blocks); a++) {
      if (canvas.painted[d * canvas.blocksAcross + a]) return true;
    }
  }
  return false;
}

/**
 * The canvas seen through the optics: each block blurred by a Gaussian of its own width, `sigmaPx(column, row)` at its middle, so that
 * a tilted chip is sharp on one side only. At the frame's rim the last pixel stands for what lies beyond.
 */
export function blurred(canvas: Canvas, sigmaPx: (column: number, row: number) => number): Float32Array {
  const out = canvas.values.slice();
  const space: Workspace = { rows: new Float32Array(0), padded: new Float32Array(0) };
  for (let down = 0; down < canvas.blocksDown; down++) {
    for (let across = 0; across < canvas.blocksAcross; across++) {
      const x0 = across * BLOCK_PX;
      const y0 = down * BLOCK_PX;
      const sigma = Math.min(MOST_SIGMA_PX, sigmaPx(x0 + BLOCK_PX / 2, y0 + BLOCK_PX / 2));
      if (sigma < LEAST_SIGMA_PX) continue;
      const half = gaussianHalf(sigma);
      if (!isNearPaint(canvas, across, down, Math.ceil((half.length - 1) / BLOCK_PX))) continue;
      const block = { x0, y0, x1: Math.min(canvas.width, x0 + BLOCK_PX), y1: Math.min(canvas.height, y0 + BLOCK_PX) };
      blurAcross(canvas, block, half, space);
      blurDown(canvas, block, half, space, out);
    }
  }
  return out;
}
