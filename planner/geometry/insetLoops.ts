import { keyOf, sideOf } from './insetGrid.ts';
import type { CountedEdge, GridEdge, GridPoint } from './insetGrid.ts';

/**
 * The outer edges, counter-clockwise, of what a closed curve winds round at least once. The pieces must have nothing in common but
 * their ends. Pieces of the plane that touch in a point come apart there.
 * @param mayBound leaves out, cheaply, pieces that are known not to lie on the edge of that area
 */
export function windingLoops(pieces: readonly CountedEdge[], mayBound: (piece: GridEdge) => boolean): readonly (readonly GridPoint[])[] {
  const bounding = pieces.filter(mayBound).flatMap((edge): GridEdge[] => {
    const right = windingRightOf(edge, pieces);
    const left = right + edge.times;
    if (left > 0 === right > 0) return [];
    return left > 0 ? [{ a: edge.a, b: edge.b }] : [{ a: edge.b, b: edge.a }];
  });
  return followLoops(bounding);
}

/**
 * How often the curve winds round the place just to the right of the middle of a piece: the signed number of pieces that a ray from
 * there crosses. The ray runs towards +x; for a level piece, whose right-hand side is below it, towards -y.
 */
function windingRightOf(edge: CountedEdge, all: readonly CountedEdge[]): number {
  const level = edge.a.y === edge.b.y;
  // Twice the middle, so that it is a grid point too; compared with twice the others.
  const middle = { x: edge.a.x + edge.b.x, y: edge.a.y + edge.b.y };
  let winding = 0;
  for (const other of all) {
    if (other === edge) continue;
    const a = level ? other.a.x : other.a.y;
    const b = level ? other.b.x : other.b.y;
    const m = level ? middle.x : middle.y;
    if (2 * a > m === 2 * b > m) continue;
    const up = b > a;
    const [low, high] = up ? [other.a, other.b] : [other.b, other.a];
    const side = sideOf(double(low), double(high), middle);
    // A piece run upwards and seen to the right has the place on its left: it winds round it once. One below, run towards +x, as well.
    if (side > 0) winding += up ? other.times : -other.times;
  }
  return winding;
}

const double = (p: GridPoint): GridPoint => ({ x: 2 * p.x, y: 2 * p.y });

/** Joins pieces end to start into loops, turning as sharply to the left as can be, so that a loop never passes through itself. */
function followLoops(edges: readonly GridEdge[]): readonly (readonly GridPoint[])[] {
  const open = new Map<string, GridEdge[]>();
  for (const edge of edges) {
    const from = open.get(keyOf(edge.a));
    if (from) from.push(edge);
    else open.set(keyOf(edge.a), [edge]);
  }
  const take = (at: string, before: GridEdge | undefined): GridEdge | undefined => {
    const list = open.get(at) ?? [];
    const best = before ? sharpestLeft(before, list) : 0;
    return list.splice(best, 1)[0];
  };
  return [...open.keys()].flatMap((start) => {
    const loops: GridPoint[][] = [];
    for (let edge = take(start, undefined); edge; edge = take(start, undefined)) {
      const corners: GridPoint[] = [];
      const first = keyOf(edge.a);
      for (let step: GridEdge | undefined = edge; step; step = keyOf(step.b) === first ? undefined : take(keyOf(step.b), step)) corners.push(step.a);
      loops.push(corners);
    }
    return loops;
  });
}

/** Index of the edge that, seen along `before`, leaves farthest to the left. */
function sharpestLeft(before: GridEdge, list: readonly GridEdge[]): number {
  return list.reduce((best, edge, i) => {
    const chosen = list[best];
    return chosen && leavesFartherLeft(before, edge, chosen) ? i : best;
  }, 0);
}

function leavesFartherLeft(before: GridEdge, edge: GridEdge, chosen: GridEdge): boolean {
  const turn = (e: GridEdge) => sideOf(before.a, before.b, e.b);
  const edgeTurn = turn(edge);
  const chosenTurn = turn(chosen);
  if (edgeTurn !== chosenTurn) return edgeTurn > chosenTurn;
  return sideOf(chosen.a, chosen.b, edge.b) > 0;
}
