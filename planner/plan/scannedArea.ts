import { boundingBox } from '../geometry/polygon.ts';
import type { Polygon } from '../geometry/polygon.ts';
import { areaUm2 } from '../geometry/polygon.ts';
import { spansInBand, withoutSpans } from './spans.ts';

/** Lines over an area's height by which what is skipped of it is measured: 0.1 % of a disc. */
const LINES = 1000;

/** Area of the pieces that is not skipped, in um2; exact where nothing is. */
export function scannedAreaUm2(pieces: readonly Polygon<'stage'>[], skipUm: readonly Polygon<'stage'>[]): number {
  const wholeUm2 = pieces.reduce((sum, piece) => sum + areaUm2(piece), 0);
  if (skipUm.length === 0 || pieces.length === 0) return wholeUm2;
  const box = boundingBox(pieces.flat());
  const stepUm = (box.yMaxUm - box.yMinUm) / LINES;
  let whole = 0;
  let left = 0;
  for (let i = 0; i < LINES; i += 1) {
    const y = box.yMinUm + (i + 0.5) * stepUm;
    const spans = spansInBand(pieces, y, y);
    const length = (all: typeof spans): number => all.reduce((sum, span) => sum + span.to - span.from, 0);
    whole += length(spans);
    left += length(withoutSpans(spans, spansInBand(skipUm, y, y)));
  }
  return whole > 0 ? (wholeUm2 * left) / whole : 0;
}
