import { powerOfTwoWithin } from './fourier.ts';
import { correlate, correlationPeaks, refinePeak } from './crossPower.ts';
import type { Peak, Window } from './crossPower.ts';
import type { Spectrum } from './fourier.ts';
import type { GreyPicture } from './greyPicture.ts';

/** Where what is seen at a place of the first picture lies in the second one, less that place. */
export interface PictureShift {
  readonly colPx: number;
  readonly rowPx: number;
  /** Height of the correlation peak in standard deviations of what chance gives; unrelated pictures reach about 6. */
  readonly score: number;
}

export type ShiftRefusal =
  /** The pictures have no common peak that stands out: no texture, no common part, or the shift is too large. */
  | { readonly code: 'noTrustworthyPeak'; readonly score: number; readonly least: number }
  /** What both pictures show is too small to be measured. */
  | { readonly code: 'commonPartTooSmall'; readonly widthPx: number; readonly heightPx: number; readonly leastPx: number };

export type ShiftResult = { readonly ok: true; readonly shift: PictureShift } | { readonly ok: false; readonly refusal: ShiftRefusal };

/**
 * Below this a peak may be chance: 1,200 pairs of unrelated pictures of 64 and 128 px, smooth to white, reached 6.1 at most; related ones
 * that were shifted too far reached 7.5 at a wrong place.
 */
export const LEAST_SCORE = 9;
const LEAST_SIDE_PX = 32;
/** Guesses of the first look that are tried: after a long way the true one need not be the highest. */
const GUESSES = 4;

/**
 * Shift between two pictures of one size to a small part of a pixel, by phase correlation (Kuglin and Hines, Proc. IEEE Conf. on
 * Cybernetics and Society, 1975; from memory), each picture less its mean under a Hann window. First the middles of both pictures give
 * some guesses in whole pixels; for each, what both pictures then have in common is compared again, and the best one is refined.
 *
 * The shift must be less than half of the largest power of two that fits into each side; up to a third of that is found reliably. Uneven
 * light and dust on the sensor stand still while the picture moves: take them out first (flat field), or they pull towards zero.
 * Throws RangeError for pictures of unlike size.
 */
export function measureShift(first: GreyPicture, second: GreyPicture, leastScore = LEAST_SCORE): ShiftResult {
  const { widthPx, heightPx } = first;
  if (second.widthPx !== widthPx || second.heightPx !== heightPx) {
    throw new RangeError(`pictures of ${widthPx} x ${heightPx} and ${second.widthPx} x ${second.heightPx} px`);
  }
  if (!commonWindows(first, 0, 0)) return { ok: false, refusal: { code: 'commonPartTooSmall', widthPx, heightPx, leastPx: LEAST_SIDE_PX } };
  let best: PictureShift = { colPx: 0, rowPx: 0, score: 0 };
  const power = powerOf(first, second, 0, 0);
  for (const guess of power ? correlationPeaks(power, GUESSES) : []) {
    const shift = lookAgain(first, second, guess);
    if (shift && shift.score > best.score) best = shift;
  }
  return best.score >= leastScore ? { ok: true, shift: best } : { ok: false, refusal: { code: 'noTrustworthyPeak', score: best.score, least: leastScore } };
}

/** The refined shift near a guess; `undefined` where the common parts show something else, so that the guess was wrong. */
function lookAgain(first: GreyPicture, second: GreyPicture, guess: Peak): PictureShift | undefined {
  const power = powerOf(first, second, guess.x, guess.y);
  const [peak] = power ? correlationPeaks(power, 1) : [];
  if (!power || !peak || Math.abs(peak.x) > 1 || Math.abs(peak.y) > 1) return undefined;
  const refined = refinePeak(power, peak);
  return { colPx: guess.x + refined.x, rowPx: guess.y + refined.y, score: peak.score };
}

/** Cross power of what two pictures have in common when their shift is about (colPx, rowPx), whole pixels. */
function powerOf(first: GreyPicture, second: GreyPicture, colPx: number, rowPx: number): Spectrum | undefined {
  const windows = commonWindows(first, colPx, rowPx);
  return windows && correlate(first, windows.first, second, windows.second);
}

function commonWindows(picture: GreyPicture, colPx: number, rowPx: number): { readonly first: Window; readonly second: Window } | undefined {
  const commonWidthPx = picture.widthPx - Math.abs(colPx);
  const commonHeightPx = picture.heightPx - Math.abs(rowPx);
  if (Math.min(commonWidthPx, commonHeightPx) < LEAST_SIDE_PX) return undefined;
  const width = powerOfTwoWithin(commonWidthPx);
  const height = powerOfTwoWithin(commonHeightPx);
  const leftPx = Math.max(0, -colPx) + ((commonWidthPx - width) >> 1);
  const topPx = Math.max(0, -rowPx) + ((commonHeightPx - height) >> 1);
  return { first: { leftPx, topPx, width, height }, second: { leftPx: leftPx + colPx, topPx: topPx + rowPx, width, height } };
}
