import { pointOnEdge } from '../geometry/crossing.ts';
import { inscribedCircle } from '../geometry/inscribedCircle.ts';
import { inset } from '../geometry/inset.ts';
import { boundingBox, containsPoint, edgesOf } from '../geometry/measure.ts';
import type { Polygon } from '../geometry/measure.ts';
import { shortestTour } from '../tour/shortestTour.ts';
import { distanceUm } from '../units/index.ts';
import type { StagePoint } from '../units/index.ts';

/** Candidates along the longer side of the area's box: fine enough that the spread of a few dozen points does not depend on it. */
const CANDIDATES_ALONG = 40;

/**
 * Where to measure focus: `count` places spread over the areas, the first at the middle of the widest part (where a focus search over
 * the full range has the best chance), the others each as far as can be from all before. Frames taken there lie on the areas wholly wherever these are wide enough.
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
  return spread(isOpen(middle) ? middle : nearestTo(middle, candidates), candidates, count);
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

/**
 * The same points in the order in which they are measured: the first stays first; the others follow in a short round that begins, and ends
 * again, at the one nearest to where the scan begins. There one of them is measured once more (see {@link repeatedPoint}), so that no way is
 * gone for it, nor from there to the first tile.
 */
export function roundOfFocusPoints(pointsUm: readonly StagePoint[], scanBeginsUm: StagePoint): readonly StagePoint[] {
  const [first, ...others] = pointsUm;
  if (!first || others.length === 0) return pointsUm;
  const round = [...shortestTour(others.length, (a, b) => distanceBetween(others, a, b), { closed: true })].map((i) => others[i] ?? first);
  const begin = round.indexOf(nearestTo(scanBeginsUm, round));
  return [first, ...round.slice(begin), ...round.slice(0, begin)];
}

/** Which of so many points measured is measured once more at the end, which tells how focus drifts: the one at which the round began. */
export function repeatedPoint(count: number): number {
  return Math.min(1, count - 1);
}

function distanceBetween(places: readonly StagePoint[], a: number, b: number): number {
  const [one, other] = [places[a], places[b]];
  return one && other ? distanceUm(one, other) : 0;
}
