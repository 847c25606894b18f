/** A point on a fine grid: whole numbers of steps, at most 2^40 of them, so that every difference, doubled too, is exact in a double. */
export interface GridPoint {
  readonly x: number;
  readonly y: number;
}

/** A directed straight piece between two grid points. */
export interface GridEdge {
  readonly a: GridPoint;
  readonly b: GridPoint;
}

/** An edge and how many times more often it is run from a to b than from b to a; b lies above a, or level with it and to the right. */
export interface CountedEdge extends GridEdge {
  readonly times: number;
}

/** Largest relative error of a difference of two products of doubles, with room to spare. */
const ROUNDING = 2 ** -51;

/**
 * On which side of the line from a to b the point p lies: 1 left, -1 right, 0 on it. Exact: where doubles leave a doubt, whole numbers
 * of any length decide.
 */
export function sideOf(a: GridPoint, b: GridPoint, p: GridPoint): number {
  const ux = b.x - a.x;
  const uy = b.y - a.y;
  const vx = p.x - a.x;
  const vy = p.y - a.y;
  const left = ux * vy;
  const right = uy * vx;
  const turn = left - right;
  if (Math.abs(turn) > ROUNDING * (Math.abs(left) + Math.abs(right))) return Math.sign(turn);
  const exact = BigInt(ux) * BigInt(vy) - BigInt(uy) * BigInt(vx);
  return exact > 0n ? 1 : exact < 0n ? -1 : 0;
}

/** The grid point nearest to where two edges cross; they must not be parallel. */
export function crossingOf(e: GridEdge, f: GridEdge): GridPoint {
  const ux = BigInt(e.b.x - e.a.x);
  const uy = BigInt(e.b.y - e.a.y);
  const vx = BigInt(f.b.x - f.a.x);
  const vy = BigInt(f.b.y - f.a.y);
  const share = BigInt(f.a.x - e.a.x) * vy - BigInt(f.a.y - e.a.y) * vx;
  const whole = ux * vy - uy * vx;
  return { x: e.a.x + Number(nearest(share * ux, whole)), y: e.a.y + Number(nearest(share * uy, whole)) };
}

/** The whole number nearest to a quotient. */
function nearest(above: bigint, below: bigint): bigint {
  const [n, d] = below < 0n ? [-above, -below] : [above, below];
  const doubled = 2n * n + d;
  const down = doubled / (2n * d);
  return doubled < 0n && doubled % (2n * d) !== 0n ? down - 1n : down;
}

export const samePoint = (p: GridPoint, q: GridPoint): boolean => p.x === q.x && p.y === q.y;

/** Whether an edge meets the grid square around p, half a step to each side, its rim included; only places within the edge's box count. */
export function touchesPixel(edge: GridEdge, p: GridPoint): boolean {
  const { a, b } = edge;
  if (p.x < Math.min(a.x, b.x) || p.x > Math.max(a.x, b.x) || p.y < Math.min(a.y, b.y) || p.y > Math.max(a.y, b.y)) return false;
  // Twice the numbers, so that the corners of the square are whole. The line parts two opposite corners, those across its slope.
  const across = b.x - a.x > 0 === b.y - a.y > 0 ? -1 : 1;
  const from = { x: 2 * a.x, y: 2 * a.y };
  const to = { x: 2 * b.x, y: 2 * b.y };
  return sideOf(from, to, { x: 2 * p.x - 1, y: 2 * p.y - across }) * sideOf(from, to, { x: 2 * p.x + 1, y: 2 * p.y + across }) <= 0;
}

/** A point as the key of a table. */
export const keyOf = (p: GridPoint): string => `${p.x},${p.y}`;

/** Edges that lie on each other as one, those without length left out; what is run as often one way as the other is gone. */
export function countDirections(edges: readonly CountedEdge[]): readonly CountedEdge[] {
  const all = new Map<string, CountedEdge>();
  for (const { a, b, times } of edges) {
    if (samePoint(a, b)) continue;
    const turned = a.y > b.y || (a.y === b.y && a.x > b.x);
    const [low, high] = turned ? [b, a] : [a, b];
    const key = `${keyOf(low)} ${keyOf(high)}`;
    all.set(key, { a: low, b: high, times: (all.get(key)?.times ?? 0) + (turned ? -times : times) });
  }
  return [...all.values()].filter((edge) => edge.times !== 0);
}
