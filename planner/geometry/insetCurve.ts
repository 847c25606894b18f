import type { FrameOfReference, PointUm } from '../units/index.ts';
import { edgesOf, turnUm2 } from './measure.ts';
import type { Edge, Polygon } from './measure.ts';

/** Largest turn of one chord of the arc around a corner that points inwards: it takes at most 0.9 % more than the margin. */
const ARC_STEP_RAD = Math.PI / 12;

/**
 * The raw curve of an inset: every edge moved inwards, joined around corners that point inwards by chords outside the arc and at all
 * other corners by the way over the corner itself. `polygon` must be counter-clockwise.
 *
 * It is the polygon's own edge less the edge of the strip beside each of its edges and of the fan around each inward corner: what two
 * of these have in common cancels. So the curve winds round a place once for the polygon, less once for every strip and fan that holds
 * it, and what it winds round once is what is left: inside, and in no strip and no fan. However it crosses itself, this stays true.
 */
export function rawInsetCurve<F extends FrameOfReference>(polygon: Polygon<F>, marginUm: number): Polygon<F> {
  const edges = edgesOf(polygon);
  return edges.flatMap((edge, i) => {
    const moved = movedLeft(edge, marginUm);
    const next = edges[(i + 1) % edges.length] ?? edge;
    const pointsInwards = turnUm2(edge.from, edge.to, next.to) < 0;
    return [moved.from, moved.to, ...(pointsInwards ? arcChords(edge, next, marginUm) : [edge.to])];
  });
}

/** An edge moved to its left (inwards for a counter-clockwise polygon). */
export function movedLeft<F extends FrameOfReference>(edge: Edge<F>, marginUm: number): Edge<F> {
  const dx = edge.to.xUm - edge.from.xUm;
  const dy = edge.to.yUm - edge.from.yUm;
  const scale = marginUm / Math.hypot(dx, dy);
  const move = (p: PointUm<F>): PointUm<F> => ({ xUm: p.xUm - dy * scale, yUm: p.yUm + dx * scale });
  return { index: edge.index, from: move(edge.from), to: move(edge.to) };
}

/** Corners of the chords that touch the arc of radius `marginUm` from outside, where two edges turn to the right. */
function arcChords<F extends FrameOfReference>(edge: Edge<F>, next: Edge<F>, marginUm: number): PointUm<F>[] {
  const heading = (e: Edge<F>) => Math.atan2(e.to.yUm - e.from.yUm, e.to.xUm - e.from.xUm);
  const from = heading(edge);
  const turn = heading(next) - from;
  const turnRight = turn > 0 ? turn - 2 * Math.PI : turn;
  // A bend too slight for its angle to be told from a full turn is none: the two moved edges meet.
  if (turnRight < -1.5 * Math.PI) return [];
  const steps = Math.max(1, Math.ceil(-turnRight / ARC_STEP_RAD));
  const radiusUm = marginUm / Math.cos(turnRight / (2 * steps));
  return Array.from({ length: steps }, (_, i) => {
    const direction = from + Math.PI / 2 + (turnRight * (i + 0.5)) / steps;
    return { xUm: edge.to.xUm + radiusUm * Math.cos(direction), yUm: edge.to.yUm + radiusUm * Math.sin(direction) };
  });
}
