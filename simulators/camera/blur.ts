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
  rows: Float32Array;
}

interface Block {
  readonly x0: number;
  readonly y0: number;
  readonly x1: number;
  readonly y1: number;
}

/** Blurs along the rows of a block and of as many rows above and below as the kernel reaches, into the workspace. */
function blurAcross(canvas: Canvas, block: Block, half: Float32Array, space: Workspace): void {
  const { width, height, values } = canvas;
  const reach = half.length - 1;
  const blockWidth = block.x1 - block.x0;
  const needed = blockWidth * 3 * (block.y1 - block.y0 + 2 * reach);
  if (space.rows.length < needed) space.rows = new Float32Array(needed);
  const out = space.rows;
  let i = 0;
  for (let y = block.y0 - reach; y < block.y1 + reach; y++) {
    const row = Math.min(Math.max(y, 0), height - 1) * width;
    for (let x = block.x0; x < block.x1; x++) {
      const middle = (row + x) * 3;
      let red = (values[middle] as number) * (half[0] as number);
      let green = (values[middle + 1] as number) * (half[0] as number);
      let blue = (values[middle + 2] as number) * (half[0] as number);
      for (let k = 1; k <= reach; k++) {
        const weight = half[k] as number;
        const left = (row + (x < k ? 0 : x - k)) * 3;
        const right = (row + (x + k >= width ? width - 1 : x + k)) * 3;
        red += weight * ((values[left] as number) + (values[right] as number));
        green += weight * ((values[left + 1] as number) + (values[right + 1] as number));
        blue += weight * ((values[left + 2] as number) + (values[right + 2] as number));
      }
      out[i++] = red;
      out[i++] = green;
      out[i++] = blue;
    }
  }
}

/** Blurs down the columns of what the workspace holds, into `out` (a whole frame). */
function blurDown(canvas: Canvas, block: Block, half: Float32Array, space: Workspace, out: Float32Array): void {
  const reach = half.length - 1;
  const stride = (block.x1 - block.x0) * 3;
  const { rows } = space;
  for (let y = block.y0; y < block.y1; y++) {
    const from = (y - block.y0 + reach) * stride;
    const to = (y * canvas.width + block.x0) * 3;
    for (let i = 0; i < stride; i++) {
      let sum = (rows[from + i] as number) * (half[0] as number);
      for (let k = 1; k <= reach; k++) sum += (half[k] as number) * ((rows[from + i - k * stride] as number) + (rows[from + i + k * stride] as number));
      out[to + i] = sum;
    }
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
  const space: Workspace = { rows: new Float32Array(0) };
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
