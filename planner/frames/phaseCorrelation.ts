import { powerOfTwoWithin } from './fourier.ts';
import { correlate, correlationPeak, refinePeak } from './crossPower.ts';
import type { Window } from './crossPower.ts';

/** A picture of one channel, row after row. */
export interface GreyPicture {
  readonly widthPx: number;
  readonly heightPx: number;
  readonly data: ArrayLike<number>;
}

/** Where what is seen at a place of the first picture lies in the second one, less that place. */
export interface PictureShift {
  readonly colPx: number;
  readonly rowPx: number;
  /** Height of the correlation peak in standard deviations of what chance gives; unrelated pictures reach about 5. */
  readonly score: number;
}

export type ShiftRefusal =
  /** The pictures have no common peak that stands out: no texture, no common part, or the shift is too large. */
  | { readonly code: 'noTrustworthyPeak'; readonly score: number; readonly least: number }
  /** What both pictures show is too small to be measured. */
  | { readonly code: 'commonPartTooSmall'; readonly widthPx: number; readonly heightPx: number; readonly leastPx: number };

export type ShiftResult = { readonly ok: true; readonly shift: PictureShift } | { readonly ok: false; readonly refusal: ShiftRefusal };

/** Below this a peak may be chance: of 600 pairs of unrelated pictures, smooth to white, 64 and 128 px, none passed 5.9. */
export const LEAST_SCORE = 6.5;
const LEAST_SIDE_PX = 32;

/**
 * Shift between two pictures of one size to a small part of a pixel, by phase correlation (Kuglin and Hines, Proc. IEEE Conf. on
 * Cybernetics and Society, 1975; from memory), each picture less its mean under a Hann window. First the middle squares tell the shift
 * in whole pixels; then the common parts of both pictures are compared again and the peak is refined.
 *
 * The shift must be less than half of the largest power of two that fits into each side. Uneven light and dust on the sensor stand still
 * while the picture moves: take them out first (flat field), or they pull towards zero. Throws RangeError for pictures of unlike size.
 */
export function measureShift(first: GreyPicture, second: GreyPicture, leastScore = LEAST_SCORE): ShiftResult {
  const { widthPx, heightPx } = first;
  if (second.widthPx !== widthPx || second.heightPx !== heightPx) {
    throw new RangeError(`pictures of ${widthPx} x ${heightPx} and ${second.widthPx} x ${second.heightPx} px`);
  }
  const coarse = compare(first, second, 0, 0);
  if (!coarse.ok) return coarse;
  const colPx = Math.round(coarse.colPx);
  const rowPx = Math.round(coarse.rowPx);
  const fine = compare(first, second, colPx, rowPx);
  if (!fine.ok) return fine;
  // The first look is only a guess: after a long way its pictures have little in common, and the second look would show a wrong one.
  const agrees = Math.abs(fine.colPx - colPx) <= 1.5 && Math.abs(fine.rowPx - rowPx) <= 1.5;
  const score = agrees ? fine.score : 0;
  if (!(score >= leastScore)) return { ok: false, refusal: { code: 'noTrustworthyPeak', score, least: leastScore } };
  return { ok: true, shift: { colPx: fine.colPx, rowPx: fine.rowPx, score } };
}

type Compared = ({ readonly ok: true } & PictureShift) | { readonly ok: false; readonly refusal: ShiftRefusal };

/** Compares the common parts of two pictures whose shift is about (colPx, rowPx), whole pixels. */
function compare(first: GreyPicture, second: GreyPicture, colPx: number, rowPx: number): Compared {
  const commonWidthPx = first.widthPx - Math.abs(colPx);
  const commonHeightPx = first.heightPx - Math.abs(rowPx);
  if (Math.min(commonWidthPx, commonHeightPx) < LEAST_SIDE_PX) {
    return { ok: false, refusal: { code: 'commonPartTooSmall', widthPx: commonWidthPx, heightPx: commonHeightPx, leastPx: LEAST_SIDE_PX } };
  }
  const width = powerOfTwoWithin(commonWidthPx);
  const height = powerOfTwoWithin(commonHeightPx);
  const left = Math.max(0, -colPx) + ((commonWidthPx - width) >> 1);
  const top = Math.max(0, -rowPx) + ((commonHeightPx - height) >> 1);
  const windowAt = (leftPx: number, topPx: number): Window => ({ leftPx, topPx, width, height });
  const power = correlate(first, windowAt(left, top), second, windowAt(left + colPx, top + rowPx));
  if (!power) return { ok: false, refusal: { code: 'noTrustworthyPeak', score: 0, least: LEAST_SCORE } };
  const peak = correlationPeak(power);
  const refined = refinePeak(power, peak);
  return { ok: true, colPx: colPx + refined.x, rowPx: rowPx + refined.y, score: peak.score };
}
