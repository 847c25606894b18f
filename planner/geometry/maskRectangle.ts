/** A rectangle of whole samples: first column and row, and how many of each. */
export interface SampleRectangle {
  readonly col: number;
  readonly row: number;
  readonly columns: number;
  readonly rows: number;
}

/** Memory that the search of one mask after another can share. */
export interface RectangleScratch {
  readonly heights: Int32Array;
  readonly stack: Int32Array;
}

export function rectangleScratch(width: number): RectangleScratch {
  return { heights: new Int32Array(width), stack: new Int32Array(width + 1) };
}

/**
 * The rectangle of most samples among the ones of a mask, in one pass: each row is a histogram of how many ones stand above it, and
 * the largest rectangle under a histogram is found with a stack of rising bars (common practice, no source).
 * @returns no columns and no rows where the mask holds no one
 */
export function rectangleInMask(mask: Uint8Array, width: number, height: number, scratch = rectangleScratch(width)): SampleRectangle {
  const { heights, stack } = scratch;
  heights.fill(0);
  let most = 0;
  let best: SampleRectangle = { col: 0, row: 0, columns: 0, rows: 0 };
  for (let row = 0; row < height; row++) {
    for (let col = 0; col < width; col++) heights[col] = mask[row * width + col] === 1 ? (heights[col] as number) + 1 : 0;
    let open = 0;
    for (let col = 0; col <= width; col++) {
      const here = col < width ? (heights[col] as number) : 0;
      while (open > 0 && (heights[stack[open - 1] as number] as number) >= here) {
        const rows = heights[stack[--open] as number] as number;
        const from = open > 0 ? (stack[open - 1] as number) + 1 : 0;
        if (rows * (col - from) <= most) continue;
        most = rows * (col - from);
        best = { col: from, row: row - rows + 1, columns: col - from, rows };
      }
      stack[open++] = col;
    }
  }
  return best;
}
