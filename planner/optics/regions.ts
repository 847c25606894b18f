/** A function sampled on a rectangular grid, row by row. */
export interface SampledField {
  readonly columns: number;
  readonly rows: number;
  readonly values: ArrayLike<number>;
}

/** Corners x, y, x, y, ... in units of grid cells; the first sample is at 0, 0. */
export type Ring = readonly number[];

/** Where the straight line from (value a) to (value b) meets the level, as a share of the way. */
const crossing = (a: number, b: number, level: number): number => (level - a) / (b - a);

/** The part of one cell in which the field, linear along the cell's edges, reaches the level. */
function clipCell(corners: readonly (readonly [number, number, number])[], level: number): number[] {
  const ring: number[] = [];
  corners.forEach(([x, y, value], i) => {
    const [nextX, nextY, nextValue] = corners[(i + 1) % corners.length] as readonly [number, number, number];
    if (value >= level) ring.push(x, y);
    if (value >= level === nextValue >= level) return;
    const share = crossing(value, nextValue, level);
    ring.push(x + share * (nextX - x), y + share * (nextY - y));
  });
  return ring;
}

/**
 * The region where a field is at or above a level, as rings to be filled together (for charts: drawn from the lowest level up, regions make
 * filled contours). Cells that lie inside whole are joined along rows.
 */
export function regionAbove(field: SampledField, level: number): Ring[] {
  const rings: Ring[] = [];
  const value = (x: number, y: number): number => field.values[y * field.columns + x] as number;
  for (let y = 0; y + 1 < field.rows; y++) {
    let runFrom: number | undefined;
    const endRun = (x: number): void => {
      if (runFrom !== undefined) rings.push([runFrom, y, x, y, x, y + 1, runFrom, y + 1]);
      runFrom = undefined;
    };
    for (let x = 0; x + 1 < field.columns; x++) {
      const corners = [[x, y], [x + 1, y], [x + 1, y + 1], [x, y + 1]].map(([cx = 0, cy = 0]) => [cx, cy, value(cx, cy)] as const);
      if (corners.every((corner) => corner[2] >= level)) {
        runFrom ??= x;
        continue;
      }
      endRun(x);
      const ring = clipCell(corners, level);
      if (ring.length > 0) rings.push(ring);
    }
    endRun(field.columns - 1);
  }
  return rings;
}
