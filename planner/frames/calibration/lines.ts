import { transform, powerOfTwoWithin, type Spectrum } from '../fourier.ts';
import type { GreyPicture } from '../greyPicture.ts';
import type { CalibrationRefusal } from './refusals.ts';

/** Equally spaced lines in a picture. */
export interface LineGrating {
  /** Periods per pixel along columns and rows; the sign is that of a half plane, for a grating has none. */
  readonly perCol: number;
  readonly perRow: number;
  /** Distance of two lines at right angles to them. */
  readonly periodPx: number;
  /** Height of the grating's peak over the usual height of the spectrum. */
  readonly score: number;
}

export type LineGratingResult = { readonly ok: true; readonly grating: LineGrating } | { readonly ok: false; readonly refusal: CalibrationRefusal };

/** Noise alone reaches about 5 (the largest of a hundred thousand Rayleigh deviates over their median); lines of 5 % contrast exceed 100. */
const LEAST_SCORE = 15;
/** Fewer periods than this across the picture cannot be told from uneven light. */
const LEAST_PERIODS = 5;
const ROUNDS = 30;

/**
 * Period and direction of equally spaced lines to a small part of a pixel: the highest peak of the spectrum under a Hann window, refined
 * between its samples by climbing |sum of picture times window times exp(-2 pi i f x)| (the maximum-likelihood frequency of a single tone
 * in white noise; Rife and Boorstyn, IEEE Trans. Inf. Theory 20 (1974) 591; from memory). The ground wave of equal lines is higher
 * than its overtones whatever their width, so it is what is found.
 */
export function findLines(picture: GreyPicture): LineGratingResult {
  const windowed = hannWindowed(picture);
  const rough = highestPeak(windowed);
  if (!(rough.score >= LEAST_SCORE)) return { ok: false, refusal: { code: 'noLines', score: rough.score, least: LEAST_SCORE } };
  const { perCol, perRow } = climb(windowed, rough.perCol, rough.perRow);
  return { ok: true, grating: { perCol, perRow, periodPx: 1 / Math.hypot(perCol, perRow), score: rough.score } };
}

/** The middle of the picture, less its mean, under a Hann window in both directions. */
function hannWindowed({ widthPx, heightPx, data }: GreyPicture): Spectrum {
  const [width, height] = [powerOfTwoWithin(widthPx), powerOfTwoWithin(heightPx)];
  const [left, top] = [(widthPx - width) >> 1, (heightPx - height) >> 1];
  const re = new Float64Array(width * height);
  for (let row = 0; row < height; row++) for (let col = 0; col < width; col++) re[row * width + col] = data[(top + row) * widthPx + left + col] as number;
  const mean = re.reduce((sum, value) => sum + value, 0) / re.length;
  const [across, down] = [hann(width), hann(height)];
  for (let row = 0; row < height; row++) {
    for (let col = 0; col < width; col++) re[row * width + col] = ((re[row * width + col] as number) - mean) * (across[col] as number) * (down[row] as number);
  }
  return { width, height, re, im: new Float64Array(width * height) };
}

function hann(size: number): Float64Array {
  return Float64Array.from({ length: size }, (_, i) => Math.sin((Math.PI * (i + 0.5)) / size) ** 2);
}

function highestPeak(windowed: Spectrum): { readonly perCol: number; readonly perRow: number; readonly score: number } {
  const { width, height } = windowed;
  const spectrum: Spectrum = { width, height, re: windowed.re.slice(), im: windowed.im.slice() };
  transform(spectrum);
  const signed = (k: number, size: number): number => (k > size / 2 ? k - size : k);
  let [best, bestCol, bestRow] = [0, 0, 0];
  const heights: number[] = [];
  // One half plane: the other is its mirror image.
  for (let row = 0; row < height; row++) {
    for (let col = 0; col <= width / 2; col++) {
      const [x, y] = [col, signed(row, height)];
      if (Math.hypot(x, y) < LEAST_PERIODS) continue;
      const value = Math.hypot(spectrum.re[row * width + col] as number, spectrum.im[row * width + col] as number);
      if ((row * 31 + col) % 7 === 0) heights.push(value);
      if (value > best) [best, bestCol, bestRow] = [value, x, y];
    }
  }
  const usual = heights.sort((a, b) => a - b)[heights.length >> 1] ?? 0;
  return { perCol: bestCol / width, perRow: bestRow / height, score: usual > 0 ? best / usual : best > 0 ? Infinity : 0 };
}

/** Parabolas through three heights along each direction, with a step that shrinks by a third each round. */
function climb(windowed: Spectrum, fromCol: number, fromRow: number): { readonly perCol: number; readonly perRow: number } {
  let [perCol, perRow] = [fromCol, fromRow];
  let [stepCol, stepRow] = [0.5 / windowed.width, 0.5 / windowed.height];
  for (let round = 0; round < ROUNDS && stepCol > 1e-9; round++) {
    const here = heightAt(windowed, perCol, perRow);
    const moveCol = vertex(heightAt(windowed, perCol - stepCol, perRow), here, heightAt(windowed, perCol + stepCol, perRow)) * stepCol;
    const moveRow = vertex(heightAt(windowed, perCol, perRow - stepRow), here, heightAt(windowed, perCol, perRow + stepRow)) * stepRow;
    [perCol, perRow] = [perCol + moveCol, perRow + moveRow];
    if (Math.abs(moveCol) < stepCol / 2 && Math.abs(moveRow) < stepRow / 2) [stepCol, stepRow] = [stepCol / 3, stepRow / 3];
    // Finer than a ten-thousandth of a period over the picture nothing is told apart any more.
    if (stepCol * windowed.width < 1e-3 && stepRow * windowed.height < 1e-3) break;
  }
  return { perCol, perRow };
}

/** Where a parabola through three equally spaced heights has its top, in steps from the middle; at most one step away. */
function vertex(before: number, here: number, after: number): number {
  const bend = before - 2 * here + after;
  if (!(bend < 0)) return after > before ? 1 : -1;
  return Math.max(-1, Math.min(1, (before - after) / (2 * bend)));
}

/** Modulus of the Fourier sum at any frequency. Turning goes step by step, for sine and cosine of each pixel would cost too much. */
function heightAt({ width, height, re }: Spectrum, perCol: number, perRow: number): number {
  const cos = Float64Array.from({ length: width }, (_, col) => Math.cos(2 * Math.PI * perCol * col));
  const sin = Float64Array.from({ length: width }, (_, col) => -Math.sin(2 * Math.PI * perCol * col));
  let [sumRe, sumIm] = [0, 0];
  for (let row = 0; row < height; row++) {
    let [rowRe, rowIm] = [0, 0];
    for (let col = 0, i = row * width; col < width; col++, i++) {
      const value = re[i] as number;
      rowRe += value * (cos[col] as number);
      rowIm += value * (sin[col] as number);
    }
    const [c, s] = [Math.cos(2 * Math.PI * perRow * row), -Math.sin(2 * Math.PI * perRow * row)];
    sumRe += rowRe * c - rowIm * s;
    sumIm += rowRe * s + rowIm * c;
  }
  return Math.hypot(sumRe, sumIm);
}
