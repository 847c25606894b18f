import { pointOnEdge } from '../geometry/crossing.ts';
import { inscribedCircle } from '../geometry/inscribedCircle.ts';
import { inset } from '../geometry/inset.ts';
import { boundingBox, containsPoint, edgesOf } from '../geometry/measure.ts';
import type { Polygon } from '../geometry/measure.ts';
import { distanceUm } from '../units/index.ts';
import type { StagePoint } from '../units/index.ts';

/** Candidates along the longer side of the area's box: fine enough that the spread of a few dozen points does not depend on it. */
const CANDIDATES_ALONG = 40;

/**
 * Where to measure focus: `count` places spread over the areas, the first at the middle of the widest part (where a focus search over
 * the full range has the best chance), the others each as far as can be from all before, and then in a short route. Frames taken there
 * lie on the areas wholly wherever these are wide enough.
 * @param areasUm what is scanned, largest first
 * @param skipUm areas within that are not looked at, unless there is nothing else
 * @param fieldDiagonalUm diagonal of a frame
 */
export function spreadFocusPoints(areasUm: readonly Polygon<'stage'>[], skipUm: readonly Polygon<'stage'>[], count: number, fieldDiagonalUm: number): readonly StagePoint[] {
  const [largest] = areasUm;
  if (!largest || count < 1) return [];
  const isOpen = (point: StagePoint): boolean => !skipUm.some((area) => containsPoint(area, point));
  const everywhere = areasUm.flatMap((area) => candidatesIn(area, fieldDiagonalUm / 2));
  const open = everywhere.filter(isOpen);
  const candidates = open.length > 0 ? open : everywhere;
  const middle = inscribedCircle(largest).centreUm;
  return shortRoute(spread(isOpen(middle) ? middle : nearestTo(middle, candidates), candidates, count));
}

function nearestTo(place: StagePoint, candidates: readonly StagePoint[]): StagePoint {
  return candidates.reduce((best, point) => (distanceUm(point, place) < distanceUm(best, place) ? point : best), candidates[0] ?? place);
}

function candidatesIn(area: Polygon<'stage'>, rimUm: number): readonly StagePoint[] {
  const [inner = area] = inset(area, rimUm);
  const box = boundingBox(inner);
  const widthUm = box.xMaxUm - box.xMinUm;
  const heightUm = box.yMaxUm - box.yMinUm;
  const pitchUm = Math.max(widthUm, heightUm) / CANDIDATES_ALONG;
  const columns = Math.max(1, Math.round(widthUm / pitchUm));
  const rows = Math.max(1, Math.round(heightUm / pitchUm));
  const grid = Array.from({ length: (columns + 1) * (rows + 1) }, (_, i) => ({
    xUm: box.xMinUm + ((i % (columns + 1)) / columns) * widthUm,
    yUm: box.yMinUm + (Math.floor(i / (columns + 1)) / rows) * heightUm,
  }));
  // The rim is where a focus surface would be extrapolated farthest, so its corners and the rest of it come first among equals.
  return [...inner, ...alongEdges(inner, pitchUm), ...grid.filter((point) => containsPoint(inner, point))];
}

/** Points on the edges, about a pitch apart, the middle of each edge among them. */
function alongEdges(area: Polygon<'stage'>, pitchUm: number): readonly StagePoint[] {
  return edgesOf(area).flatMap((edge) => {
    const pieces = 2 * Math.ceil(distanceUm(edge.from, edge.to) / (2 * pitchUm));
    return Array.from({ length: pieces - 1 }, (_, i) => pointOnEdge(edge, (i + 1) / pieces));
  });
}

/** Farthest-point sampling (Gonzalez, Theoretical Computer Science 38 (1985) 293; from memory). */
function spread(first: StagePoint, candidates: readonly StagePoint[], count: number): readonly StagePoint[] {
  const chosen = [first];
  const away = candidates.map((point) => distanceUm(point, first));
  while (chosen.length < count) {
    const farthest = away.reduce((best, distance, i) => (distance > (away[best] ?? 0) ? i : best), 0);
    const next = candidates[farthest];
    if (!next || (away[farthest] ?? 0) <= 0) break;
    chosen.push(next);
    candidates.forEach((point, i) => {
      away[i] = Math.min(away[i] ?? 0, distanceUm(point, next));
    });
  }
  return chosen;
}

/** The same points, the first staying first: always on to the nearest, then turned round wherever that shortens the way (2-opt). */
function shortRoute(points: readonly StagePoint[]): readonly StagePoint[] {
  const route = nearestFirst(points);
  const leg = (i: number, j: number) => {
    const a = route[i];
    const b = route[j];
    return a && b ? distanceUm(a, b) : 0;
  };
  let improved = true;
  while (improved) {
    improved = false;
    for (let i = 1; i < route.length - 1; i += 1) {
      for (let j = i + 1; j < route.length; j += 1) {
        if (leg(i - 1, j) + leg(i, j + 1) >= leg(i - 1, i) + leg(j, j + 1) - 1e-6) continue;
        route.splice(i, j - i + 1, ...route.slice(i, j + 1).reverse());
        improved = true;
      }
    }
  }
  return route;
}

function nearestFirst(points: readonly StagePoint[]): StagePoint[] {
  const open = points.slice(1);
  const route = points.slice(0, 1);
  while (open.length > 0) {
    const last = route[route.length - 1];
    const nearest = open.reduce((best, point, i) => (last && distanceUm(point, last) < distanceUm(open[best] ?? point, last) ? i : best), 0);
    route.push(...open.splice(nearest, 1));
  }
  return route;
}
