import { containsPoint, edgesOf } from '../geometry/measure.ts';
import type { Polygon } from '../geometry/measure.ts';

/** A stretch of one axis. */
export interface Span {
  readonly from: number;
  readonly to: number;
}

/** The stretches of x over which the polygons reach into the band yMin <= y <= yMax, in order and not touching each other. */
export function spansInBand(polygons: readonly Polygon<'stage'>[], yMin: number, yMax: number): readonly Span[] {
  const clipped = polygons.flatMap((polygon) => edgesInBand(polygon, yMin, yMax));
  const yMiddle = (yMin + yMax) / 2;
  const covered = betweenBreaks(clipped).filter((span) => {
    const middle = (span.from + span.to) / 2;
    return hasEdgeAt(clipped, middle) || polygons.some((polygon) => containsPoint(polygon, { xUm: middle, yUm: yMiddle }));
  });
  return joinSpans(covered, () => false);
}

/** The stretches of x over which one of the polygons fills the band from top to bottom, in order and not touching each other. */
export function spansFilled(polygons: readonly Polygon<'stage'>[], yMin: number, yMax: number): readonly Span[] {
  const yMiddle = (yMin + yMax) / 2;
  const filled = polygons.flatMap((polygon) => {
    const clipped = edgesInBand(polygon, yMin, yMax);
    return betweenBreaks(clipped).filter((span) => {
      const middle = (span.from + span.to) / 2;
      return !hasEdgeAt(clipped, middle) && containsPoint(polygon, { xUm: middle, yUm: yMiddle });
    });
  });
  return joinSpans([...filled].sort((a, b) => a.from - b.from), () => false);
}

/** Between two breaks no edge begins or ends: either an edge runs all the way, or the band is inside from top to bottom, or outside. */
function betweenBreaks(clipped: readonly Span[]): readonly Span[] {
  const breaks = [...new Set(clipped.flatMap((span) => [span.from, span.to]))].sort((a, b) => a - b);
  return breaks.slice(1).map((to, i) => ({ from: breaks[i] ?? to, to }));
}

function hasEdgeAt(clipped: readonly Span[], x: number): boolean {
  return clipped.some((span) => span.from <= x && span.to >= x);
}

/** What is left of the spans without the others. Both in order and not touching each other. */
export function withoutSpans(spans: readonly Span[], others: readonly Span[]): readonly Span[] {
  return spans.flatMap((span) => {
    const rest: Span[] = [];
    let from = span.from;
    for (const other of others) {
      if (other.to <= from || other.from >= span.to) continue;
      if (other.from > from) rest.push({ from, to: other.from });
      from = other.to;
    }
    return from < span.to ? [...rest, { from, to: span.to }] : rest;
  });
}

/** The stretch of x of each edge within the band. */
function edgesInBand(polygon: Polygon<'stage'>, yMin: number, yMax: number): readonly Span[] {
  return edgesOf(polygon).flatMap(({ from, to }): Span[] => {
    if (Math.max(from.yUm, to.yUm) < yMin || Math.min(from.yUm, to.yUm) > yMax) return [];
    const xAt = (y: number) => from.xUm + ((y - from.yUm) / (to.yUm - from.yUm)) * (to.xUm - from.xUm);
    const clip = (x: number, y: number) => (y < yMin ? xAt(yMin) : y > yMax ? xAt(yMax) : x);
    const a = clip(from.xUm, from.yUm);
    const b = clip(to.xUm, to.yUm);
    return [{ from: Math.min(a, b), to: Math.max(a, b) }];
  });
}

/** Joins neighbours that touch, and those across a gap for which `bridge` says yes. The spans must be in order. */
export function joinSpans(spans: readonly Span[], bridge: (left: Span, right: Span) => boolean): readonly Span[] {
  return spans.reduce<Span[]>((joined, span) => {
    const last = joined[joined.length - 1];
    if (!last || (span.from > last.to && !bridge(last, span))) return [...joined, span];
    joined[joined.length - 1] = { from: last.from, to: Math.max(last.to, span.to) };
    return joined;
  }, []);
}

/** How many tiles of side `side` cover a length when neighbours lie at most `step` apart. The slack keeps rounding from adding a tile. */
export function tilesOver(length: number, side: number, step: number): number {
  return length <= side ? 1 : Math.ceil((length - side) / step - 1e-9) + 1;
}

/** Middles of the tiles that cover a span: evenly spread, the outer ones flush with its ends; one tile lies in the middle. */
export function middlesOver(span: Span, side: number, step: number): readonly number[] {
  const length = span.to - span.from;
  const count = tilesOver(length, side, step);
  if (count === 1) return [(span.from + span.to) / 2];
  return Array.from({ length: count }, (_, i) => span.from + side / 2 + (i * (length - side)) / (count - 1));
}
