/** A closed line in grid coordinates: column and row of each corner, sample centres at whole numbers plus a half. */
export interface Contour {
  readonly cols: readonly number[];
  readonly rows: readonly number[];
  /** Signed area, above zero where the inside lies to the right of the way in image coordinates (rows downwards). */
  readonly area: number;
}

/** Edges of a cell that the line runs between, by which corners are inside: upper left 8, upper right 4, lower right 2, lower left 1. */
const TOP = 0;
const RIGHT = 1;
const BOTTOM = 2;
const LEFT = 3;
const WAYS: readonly (readonly number[])[] = [
  [], [LEFT, BOTTOM], [BOTTOM, RIGHT], [LEFT, RIGHT], [RIGHT, TOP], [RIGHT, TOP, LEFT, BOTTOM], [BOTTOM, TOP], [LEFT, TOP],
  [TOP, LEFT], [TOP, BOTTOM], [TOP, LEFT, BOTTOM, RIGHT], [TOP, RIGHT], [RIGHT, LEFT], [RIGHT, BOTTOM], [BOTTOM, LEFT], [],
];

/**
 * Lines of equal value through a grid by marching squares with linear interpolation; beyond the grid the value counts as 0.
 * At a saddle the two high corners stay apart. Lorensen and Cline, Computer Graphics 21 (1987) 163, in two dimensions (from memory).
 * @param field height * width samples, row by row
 * @returns every closed line, the largest by area first; outer lines have a positive area, holes a negative one
 */
export function traceContours(field: Float32Array, width: number, height: number, level = 0.5): readonly Contour[] {
  const wide = width + 2;
  const padded = new Float32Array(wide * (height + 2));
  for (let row = 0; row < height; row++) padded.set(field.subarray(row * width, (row + 1) * width), (row + 1) * wide + 1);
  const next = linkCrossings(padded, wide, height + 2, level);
  const contours: Contour[] = [];
  for (const start of [...next.keys()]) {
    if (!next.has(start)) continue;
    contours.push(walk(padded, wide, level, next, start));
  }
  return contours.sort((a, b) => Math.abs(b.area) - Math.abs(a.area));
}

/** For every grid edge that the line crosses, the edge that it crosses next. An edge is 2 * node for across, 2 * node + 1 for down. */
function linkCrossings(field: Float32Array, width: number, height: number, level: number): Map<number, number> {
  const next = new Map<number, number>();
  for (let row = 0; row < height - 1; row++) {
    for (let col = 0; col < width - 1; col++) {
      const at = row * width + col;
      const corners =
        ((field[at] as number) > level ? 8 : 0) + ((field[at + 1] as number) > level ? 4 : 0) +
        ((field[at + width + 1] as number) > level ? 2 : 0) + ((field[at + width] as number) > level ? 1 : 0);
      if (corners === 0 || corners === 15) continue;
      const edges = [2 * at, 2 * (at + 1) + 1, 2 * (at + width), 2 * at + 1];
      const ways = WAYS[corners] as readonly number[];
      for (let i = 0; i < ways.length; i += 2) next.set(edges[ways[i] as number] as number, edges[ways[i + 1] as number] as number);
    }
  }
  return next;
}

function walk(field: Float32Array, width: number, level: number, next: Map<number, number>, start: number): Contour {
  const cols: number[] = [];
  const rows: number[] = [];
  for (let edge: number | undefined = start; edge !== undefined; ) {
    const node = edge >> 1;
    const down = edge % 2 === 1;
    const a = field[node] as number;
    const b = field[down ? node + width : node + 1] as number;
    const share = (level - a) / (b - a);
    const col = node % width;
    cols.push(col + (down ? 0 : share) - 0.5);
    rows.push((node - col) / width + (down ? share : 0) - 0.5);
    const after: number | undefined = next.get(edge);
    next.delete(edge);
    edge = after !== undefined && next.has(after) ? after : undefined;
  }
  return { cols, rows, area: shoelace(cols, rows) };
}

function shoelace(cols: readonly number[], rows: readonly number[]): number {
  let twice = 0;
  for (let i = 0, j = cols.length - 1; i < cols.length; j = i++) {
    twice += (cols[j] as number) * (rows[i] as number) - (cols[i] as number) * (rows[j] as number);
  }
  return twice / 2;
}
