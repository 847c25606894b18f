import { correlate, correlationPeaks, refinePeak, type Peak, type Window } from '../crossPower.ts';
import type { Spectrum } from '../fourier.ts';
import { powerOfTwoWithin } from '../fourier.ts';
import type { GreyPicture } from '../greyPicture.ts';
import { finerShift, type Shift } from './finerShift.ts';
import { LEAST_SCORE, type PictureShift, type ShiftResult } from '../phaseCorrelation.ts';

/** Larger windows cost more and tell little more. */
const MOST_SIDE_PX = 512;
const LEAST_SIDE_PX = 64;
/** Peaks that are looked at: what stands still on the sensor may have left one that is higher than the picture's own. */
const PEAKS = 4;

/** Where a picture is expected in the second frame, and how far from there it is believed. */
export interface Expectation {
  readonly colPx: number;
  readonly rowPx: number;
  readonly withinPx: number;
}

/**
 * Shift between two pictures of one size where it is roughly known: windows are cut out of both so that they show the same part, and only
 * what is left between them is measured, as `measureShift` does. So the shift may be nearly as long as the picture, and what stands still
 * on the sensor pulls at nothing, for it lies at different places of the two windows. The pictures must be levelled: what the phases
 * find is refined by the samples themselves (see `finerShift`).
 */
export function shiftNear(first: GreyPicture, second: GreyPicture, expected: Expectation, leastScore = LEAST_SCORE): ShiftResult {
  let [colPx, rowPx] = [Math.round(expected.colPx), Math.round(expected.rowPx)];
  const begun = [colPx, rowPx] as const;
  let score = 0;
  // The second look begins where the first one found it, so that both windows show quite the same part.
  for (let look = 0; look < 3; look++) {
    const windows = windowsFor(first, colPx, rowPx);
    if (!windows) return { ok: false, refusal: { code: 'commonPartTooSmall', widthPx: first.widthPx, heightPx: first.heightPx, leastPx: LEAST_SIDE_PX } };
    const power = correlate(first, windows.first, second, windows.second);
    const peak = power && nearest(power, expected.withinPx, colPx - begun[0], rowPx - begun[1]);
    score = peak?.score ?? 0;
    if (!power || !peak || score < leastScore) break;
    if (Math.max(Math.abs(peak.x), Math.abs(peak.y)) <= 1) return { ok: true, shift: refined(power, peak, colPx, rowPx, (from) => finerShift(first, windows.first, second, windows.second, from)) };
    [colPx, rowPx] = [colPx + peak.x, rowPx + peak.y];
  }
  return { ok: false, refusal: { code: 'noTrustworthyPeak', score, least: leastScore } };
}

/** By the phases, then by the samples; by the phases alone where the samples lead away. */
function refined(power: Spectrum, peak: Peak, colPx: number, rowPx: number, finer: (from: Shift) => Shift | undefined): PictureShift {
  const byPhase = refinePeak(power, peak);
  const { x, y } = finer(byPhase) ?? byPhase;
  return { colPx: colPx + x, rowPx: rowPx + y, score: peak.score };
}

/** The highest peak that lies within the expectation; `awayX` and `awayY` are what was already gone from its middle. */
function nearest(power: Spectrum, withinPx: number, awayX: number, awayY: number): Peak | undefined {
  return correlationPeaks(power, PEAKS).find(({ x, y }) => Math.hypot(x + awayX, y + awayY) <= withinPx);
}

function windowsFor({ widthPx, heightPx }: GreyPicture, colPx: number, rowPx: number): { readonly first: Window; readonly second: Window } | undefined {
  const [commonWidthPx, commonHeightPx] = [widthPx - Math.abs(colPx), heightPx - Math.abs(rowPx)];
  if (Math.min(commonWidthPx, commonHeightPx) < LEAST_SIDE_PX) return undefined;
  const width = Math.min(MOST_SIDE_PX, powerOfTwoWithin(commonWidthPx));
  const height = Math.min(MOST_SIDE_PX, powerOfTwoWithin(commonHeightPx));
  const leftPx = Math.max(0, -colPx) + ((commonWidthPx - width) >> 1);
  const topPx = Math.max(0, -rowPx) + ((commonHeightPx - height) >> 1);
  return { first: { leftPx, topPx, width, height }, second: { leftPx: leftPx + colPx, topPx: topPx + rowPx, width, height } };
}
