import { countDirections, crossingOf, samePoint, sideOf, touchesPixel } from './insetGrid.ts';
import type { CountedEdge, GridEdge, GridPoint } from './insetGrid.ts';

/** Most rounds of cutting: two do as a rule, the second of which finds nothing left to cut. */
const MAX_ROUNDS = 100;

/**
 * The edges bent and cut into pieces that have nothing in common but their ends (or lie wholly upon each other), by snap rounding
 * (Hobby, Computational Geometry 13 (1999) 199; from memory): the ends and the crossings, rounded to the grid, are nodes, and every
 * edge that passes through the grid square around a node is led through the node. So no edge moves by more than about a grid step, and
 * edges that run together but for rounding become one. A bent piece may come to pass another node: it is done again until none does
 * (Halperin and Packer, Computational Geometry 23 (2002) 209; from memory).
 * Throws RangeError if that does not come to an end.
 */
export function cutAtMeetings(edges: readonly GridEdge[]): readonly CountedEdge[] {
  let pieces = countDirections(edges.map((edge) => ({ ...edge, times: 1 })));
  for (let round = 0; round < MAX_ROUNDS; round += 1) {
    const nodes = nodesOf(pieces);
    const cut = pieces.flatMap((edge) => leadThrough(edge, nodes));
    if (cut.length === pieces.length) return pieces;
    pieces = countDirections(cut);
  }
  throw new RangeError('the edges of the inset could not be parted at their crossings');
}

/** Ends and rounded crossings, each once, in the order of x. */
function nodesOf(edges: readonly GridEdge[]): readonly GridPoint[] {
  const nodes = edges.map((edge) => edge.a).concat(edges.map((edge) => edge.b));
  forNeighbours(edges, (e, f) => {
    if (sideOf(e.a, e.b, f.a) * sideOf(e.a, e.b, f.b) < 0 && sideOf(f.a, f.b, e.a) * sideOf(f.a, f.b, e.b) < 0) nodes.push(crossingOf(e, f));
  });
  nodes.sort((p, q) => p.x - q.x || p.y - q.y);
  return nodes.filter((p, i) => {
    const before = nodes[i - 1];
    return !before || !samePoint(before, p);
  });
}

/** Calls back for every pair of edges whose boxes touch; the edges are gone through in the order of their left ends. */
function forNeighbours(edges: readonly GridEdge[], visit: (e: GridEdge, f: GridEdge) => void): void {
  const boxed = edges
    .map((edge) => ({
      edge,
      x: Math.min(edge.a.x, edge.b.x),
      xEnd: Math.max(edge.a.x, edge.b.x),
      y: Math.min(edge.a.y, edge.b.y),
      yEnd: Math.max(edge.a.y, edge.b.y),
    }))
    .sort((p, q) => p.x - q.x);
  for (const [i, one] of boxed.entries()) {
    for (let j = i + 1; j < boxed.length; j += 1) {
      const other = boxed[j];
      if (!other || other.x > one.xEnd) break;
      if (other.y <= one.yEnd && one.y <= other.yEnd) visit(one.edge, other.edge);
    }
  }
}

/** The pieces of an edge from node to node, in its own direction; it passes the squares of nodes in the order of both x and y. */
function leadThrough(edge: CountedEdge, nodes: readonly GridPoint[]): readonly CountedEdge[] {
  const { a, b, times } = edge;
  const xEnd = Math.max(a.x, b.x);
  const stops: GridPoint[] = [];
  for (let i = firstFrom(nodes, Math.min(a.x, b.x)); i < nodes.length; i += 1) {
    const node = nodes[i];
    if (!node || node.x > xEnd) break;
    if (touchesPixel(edge, node)) stops.push(node);
  }
  if (stops.length <= 2) return [edge];
  const xWay = Math.sign(b.x - a.x);
  const yWay = Math.sign(b.y - a.y);
  stops.sort((p, q) => xWay * (p.x - q.x) || yWay * (p.y - q.y));
  return stops.slice(1).map((to, i) => ({ a: stops[i] ?? a, b: to, times }));
}

/** Index of the first node whose x is not below `x`. */
function firstFrom(nodes: readonly GridPoint[], x: number): number {
  let low = 0;
  let high = nodes.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if ((nodes[middle]?.x ?? x) < x) low = middle + 1;
    else high = middle;
  }
  return low;
}
