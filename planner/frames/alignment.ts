import type { GreyPicture } from './greyPicture.ts';
import { measureShift } from './phaseCorrelation.ts';
import { binned, LEAST_LIKENESS, likeness, mostAlike } from './placedPicture.ts';

/** Two pictures of one place: where what is seen in the first lies in the second, and how alike they then are. */
export interface Alignment {
  readonly colPx: number;
  readonly rowPx: number;
  readonly likeness: number;
}

/** The coarse look is at squares of so many pixels. */
const COARSE_PX = 4;

/**
 * Lays a picture onto another one: by phase correlation, and where that finds nothing alike (few flakes, long scratches), by trying every
 * shift within reach for the one that is most alike, first in large pixels and then in small ones.
 * @param reachPx how far the second picture may be shifted
 */
export function align(first: GreyPicture, second: GreyPicture, reachPx: number): Alignment {
  const correlated = measureShift(first, second);
  if (correlated.ok && Math.hypot(correlated.shift.colPx, correlated.shift.rowPx) <= reachPx) {
    const { colPx, rowPx } = correlated.shift;
    const alike = likeness(first, second, { colPx, rowPx });
    if (alike >= LEAST_LIKENESS) return { colPx, rowPx, likeness: alike };
  }
  const coarse = mostAlike(inSquares(first), inSquares(second), { colPx: 0, rowPx: 0 }, Math.ceil(reachPx / COARSE_PX));
  // What large pixels find nothing alike in, small ones will not make alike.
  if (coarse.likeness < LEAST_LIKENESS / 2) return { colPx: coarse.colPx * COARSE_PX, rowPx: coarse.rowPx * COARSE_PX, likeness: coarse.likeness };
  return mostAlike(first, second, { colPx: coarse.colPx * COARSE_PX, rowPx: coarse.rowPx * COARSE_PX }, COARSE_PX);
}

function inSquares(picture: GreyPicture): GreyPicture {
  const pose = { centreUm: { xUm: 0, yUm: 0 }, cameraToStageUm: [1, 0, 0, 1] as const, widthPx: picture.widthPx, heightPx: picture.heightPx };
  return binned({ picture, pose }, COARSE_PX).picture;
}
