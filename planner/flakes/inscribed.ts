/** The largest circle inside a mask: radius and centre in samples, sample centres at whole numbers plus a half. */
export interface InscribedCircle {
  readonly radiusPx: number;
  readonly colPx: number;
  readonly rowPx: number;
}

/**
 * Largest circle that fits into a mask of 0 and 1, from the exact distance transform (Felzenszwalb and Huttenlocher, Theory of
 * Computing 8 (2012) 415, from memory). Beyond the grid is outside. The edge lies half a sample from the nearest outer centre.
 */
export function inscribedInMask(mask: Uint8Array, width: number, height: number): InscribedCircle {
  const squared = squaredDistances(mask, width, height);
  let best = -1;
  let at = 0;
  for (let i = 0; i < mask.length; i++) {
    const d = squared[(Math.floor(i / width) + 1) * (width + 2) + (i % width) + 1] as number;
    if (d > best) [best, at] = [d, i];
  }
  return { radiusPx: Math.max(0, Math.sqrt(best) - 0.5), colPx: (at % width) + 0.5, rowPx: Math.floor(at / width) + 0.5 };
}

/** Squared distance to the nearest sample outside the mask, on the grid with one sample of outside all round. */
function squaredDistances(mask: Uint8Array, width: number, height: number): Float64Array {
  const wide = width + 2;
  const high = height + 2;
  const far = wide * wide + high * high;
  const grid = new Float64Array(wide * high);
  for (let row = 0; row < height; row++) {
    for (let col = 0; col < width; col++) if (mask[row * width + col] === 1) grid[(row + 1) * wide + col + 1] = far;
  }
  const longest = Math.max(wide, high);
  const scratch = { line: new Float64Array(longest), at: new Int32Array(longest), bound: new Float64Array(longest + 1) };
  for (let col = 0; col < wide; col++) lower(grid, col, wide, high, scratch);
  for (let row = 0; row < high; row++) lower(grid, row * wide, 1, wide, scratch);
  return grid;
}

interface Scratch {
  readonly line: Float64Array;
  readonly at: Int32Array;
  readonly bound: Float64Array;
}

/** Replaces a line f by min over q of (p - q)^2 + f(q): the lower envelope of parabolas. */
function lower(grid: Float64Array, start: number, stride: number, count: number, scratch: Scratch): void {
  const { line, at, bound } = scratch;
  for (let i = 0; i < count; i++) line[i] = grid[start + i * stride] as number;
  let top = 0;
  at[0] = 0;
  bound[0] = -Infinity;
  for (let q = 1; q < count; q++) {
    let meet = crossing(line, at[top] as number, q);
    while (meet <= (bound[top] as number)) meet = crossing(line, at[--top] as number, q);
    at[++top] = q;
    bound[top] = meet;
  }
  for (let p = 0, k = 0; p < count; p++) {
    while (k < top && (bound[k + 1] as number) < p) k++;
    const q = at[k] as number;
    grid[start + p * stride] = (p - q) * (p - q) + (line[q] as number);
  }
}

function crossing(line: Float64Array, v: number, q: number): number {
  return ((line[q] as number) + q * q - ((line[v] as number) + v * v)) / (2 * q - 2 * v);
}
