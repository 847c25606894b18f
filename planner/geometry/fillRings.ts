/** A grid of equal samples over the box of the outline, in the turned frame of the edges; samples need not be square. */
export interface TurnedGrid {
  readonly xMin: number;
  readonly yMin: number;
  readonly dx: number;
  readonly dy: number;
  readonly size: number;
}

/** The grid of `size` by `size` samples over the first ring's edges. */
export function gridOverOutline(ends: Float64Array, rings: readonly number[], size: number): TurnedGrid {
  let [xMin, xMax, yMin, yMax] = [Infinity, -Infinity, Infinity, -Infinity];
  for (let i = 0; i < 4 * (rings[1] as number); i += 4) {
    const x = ends[i] as number;
    const y = ends[i + 1] as number;
    if (x < xMin) xMin = x;
    if (x > xMax) xMax = x;
    if (y < yMin) yMin = y;
    if (y > yMax) yMax = y;
  }
  return { xMin, yMin, dx: Math.max((xMax - xMin) / size, 1e-12), dy: Math.max((yMax - yMin) / size, 1e-12), size };
}

/** Sets the mask to 1 where a sample's centre lies inside the outline and in no hole, elsewhere to 0. */
export function fillRings(ends: Float64Array, rings: readonly number[], grid: TurnedGrid, mask: Uint8Array, toggles: Uint8Array): void {
  mask.fill(0);
  for (let ring = 0; ring + 1 < rings.length; ring++) {
    toggles.fill(0);
    for (let i = 4 * (rings[ring] as number); i < 4 * (rings[ring + 1] as number); i += 4) toggleEdge(ends, i, grid, toggles);
    sweep(grid.size, ring === 0 ? 1 : 0, mask, toggles);
  }
}

/** Marks, in every row that an edge crosses, the first sample to the right of it: from there on in and out change places. */
function toggleEdge(ends: Float64Array, at: number, grid: TurnedGrid, toggles: Uint8Array): void {
  const { size } = grid;
  const ax = ((ends[at] as number) - grid.xMin) / grid.dx;
  const ay = ((ends[at + 1] as number) - grid.yMin) / grid.dy;
  const bx = ((ends[at + 2] as number) - grid.xMin) / grid.dx;
  const by = ((ends[at + 3] as number) - grid.yMin) / grid.dy;
  const from = Math.max(0, Math.ceil(Math.min(ay, by) - 0.5));
  const to = Math.min(size, Math.ceil(Math.max(ay, by) - 0.5));
  const slope = (bx - ax) / (by - ay);
  for (let row = from; row < to; row++) {
    const x = ax + slope * (row + 0.5 - ay);
    const col = x <= 0.5 ? 0 : Math.ceil(x - 0.5);
    if (col < size) toggles[row * size + col] = 1 - (toggles[row * size + col] as number);
  }
}

function sweep(size: number, value: number, mask: Uint8Array, toggles: Uint8Array): void {
  for (let row = 0; row < size; row++) {
    let inside = 0;
    for (let at = row * size; at < (row + 1) * size; at++) {
      inside ^= toggles[at] as number;
      if (inside === 1) mask[at] = value;
    }
  }
}
