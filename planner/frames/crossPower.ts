import { transform } from './fourier.ts';
import type { Spectrum } from './fourier.ts';
import type { GreyPicture } from './greyPicture.ts';

/** A part of a picture; width and height are powers of two. */
export interface Window {
  readonly leftPx: number;
  readonly topPx: number;
  readonly width: number;
  readonly height: number;
}

/** A peak of the correlation: its place, from minus half to plus half of the window, and its height in standard deviations of what chance gives. */
export interface Peak {
  readonly x: number;
  readonly y: number;
  readonly score: number;
}

/** The noise floor is read from the quietest fifth of all frequencies, but is at least this share of the mean power (leakage of the window). */
const LEAST_NOISE_SHARE = 0.02;
const NOISE_QUANTILE = 0.2;
/** Beyond this weight a frequency's phase is as good as exact. */
const FULL_WEIGHT = 20;

/** Cross-power spectrum of two windows, levelled and weighted; `undefined` when one of them has no texture at all. */
export function correlate(first: GreyPicture, firstWindow: Window, second: GreyPicture, secondWindow: Window): Spectrum | undefined {
  const { width, height } = firstWindow;
  // Both real pictures go through one transform, as real and imaginary part.
  const both: Spectrum = { width, height, re: hannWindowed(first, firstWindow), im: hannWindowed(second, secondWindow) };
  transform(both);
  return weighted(crossPower(both));
}

function hannWindowed(picture: GreyPicture, { leftPx, topPx, width, height }: Window): Float64Array {
  const out = new Float64Array(width * height);
  let sum = 0;
  for (let row = 0; row < height; row += 1) {
    const from = (topPx + row) * picture.widthPx + leftPx;
    for (let col = 0; col < width; col += 1) {
      const value = picture.data[from + col] as number;
      out[row * width + col] = value;
      sum += value;
    }
  }
  const mean = sum / out.length;
  const across = hann(width);
  const down = hann(height);
  for (let row = 0; row < height; row += 1) {
    for (let col = 0; col < width; col += 1) {
      const i = row * width + col;
      out[i] = ((out[i] as number) - mean) * (across[col] as number) * (down[row] as number);
    }
  }
  return out;
}

function hann(size: number): Float64Array {
  return Float64Array.from({ length: size }, (_, i) => Math.sin((Math.PI * (i + 0.5)) / size) ** 2);
}

/** conj(A) B for the spectra A and B of the two real pictures that were transformed as one complex picture Z = A + i B. */
function crossPower({ width, height, re, im }: Spectrum): Spectrum {
  const outRe = new Float64Array(re.length);
  const outIm = new Float64Array(re.length);
  for (let row = 0; row < height; row += 1) {
    const mirrorRow = row === 0 ? 0 : height - row;
    for (let col = 0; col < width; col += 1) {
      const i = row * width + col;
      const j = mirrorRow * width + (col === 0 ? 0 : width - col);
      // A = (Z(k) + conj Z(-k))/2 and B = (Z(k) - conj Z(-k))/(2 i).
      const aRe = ((re[i] as number) + (re[j] as number)) / 2;
      const aIm = ((im[i] as number) - (im[j] as number)) / 2;
      const bRe = ((im[i] as number) + (im[j] as number)) / 2;
      const bIm = ((re[j] as number) - (re[i] as number)) / 2;
      outRe[i] = aRe * bRe + aIm * bIm;
      outIm[i] = aRe * bIm - aIm * bRe;
    }
  }
  return { width, height, re: outRe, im: outIm };
}

/**
 * Levels the modulus of every frequency and weights it by what its phase is worth: gamma^2/(1 - gamma^2), with gamma = S/(S + N) for
 * signal S over noise N, the maximum-likelihood weight for a delay (Knapp and Carter, IEEE Trans. ASSP 24 (1976) 320; from memory).
 * The highest frequencies, which have no sign, are left out.
 */
function weighted({ width, height, re, im }: Spectrum): Spectrum | undefined {
  const modulus = re.map((value, i) => Math.hypot(value, im[i] as number));
  const mean = modulus.reduce((sum, value) => sum + value, 0) / modulus.length;
  if (!(mean > 0)) return undefined;
  const smooth = smoothed(modulus, width, height);
  const noise = Math.max(quantile(smooth, NOISE_QUANTILE), LEAST_NOISE_SHARE * mean);
  modulus.forEach((value, i) => {
    const ratio = Math.max(0, (smooth[i] as number) / noise - 1);
    const isHighest = i % width === width / 2 || Math.floor(i / width) === height / 2;
    const factor = isHighest || value === 0 ? 0 : Math.min(FULL_WEIGHT, (ratio * ratio) / (1 + 2 * ratio)) / value;
    re[i] = (re[i] as number) * factor;
    im[i] = (im[i] as number) * factor;
  });
  return { width, height, re, im };
}

/** Mean over 3 x 3 neighbours, going round at the edges: the power at one frequency alone scatters by its own size. */
function smoothed(values: Float64Array, width: number, height: number): Float64Array {
  const across = values.map((value, i) => {
    const row = i - (i % width);
    return value + (values[row + ((i + 1) % width)] as number) + (values[row + ((i + width - 1) % width)] as number);
  });
  const size = width * height;
  return across.map((value, i) => (value + (across[(i + width) % size] as number) + (across[(i + size - width) % size] as number)) / 9);
}

/** A quantile from every seventh value: close enough for a noise floor, and quick. */
function quantile(values: Float64Array, share: number): number {
  const some = values.filter((_, i) => i % 7 === 0).sort();
  return some[Math.floor(share * some.length)] ?? 0;
}

/**
 * Independent frequencies are fewer than there are: real pictures have each twice, and the Hann window mixes neighbours over 1.5 in both
 * directions (its equivalent noise bandwidth; Harris, Proc. IEEE 66 (1978) 51; from memory).
 */
const FREQUENCIES_PER_INDEPENDENT = 2 * 1.5 ** 2;

/** The highest tops of the correlation, at least four samples apart, and how far each lies beyond chance; the highest first. */
export function correlationPeaks({ width, height, re, im }: Spectrum, count: number): readonly Peak[] {
  const squares = re.reduce((sum, value, i) => sum + value * value + (im[i] as number) ** 2, 0);
  // Sum of w cos(phase): for phases by chance its variance is half the sum of w^2, times what is not independent.
  const chance = Math.sqrt((squares * FREQUENCIES_PER_INDEPENDENT) / 2);
  // The inverse transform: real and imaginary part swapped before and after. The correlation of real pictures is real.
  const plane: Spectrum = { width, height, re: im.slice(), im: re.slice() };
  transform(plane);
  const signed = (k: number, size: number) => (k >= size / 2 ? k - size : k);
  return Array.from({ length: count }, () => {
    const at = plane.im.reduce((best, value, i, values) => (value > (values[best] as number) ? i : best), 0);
    const score = chance > 0 ? (plane.im[at] as number) / chance : 0;
    flatten(plane, at);
    return { x: signed(at % width, width), y: signed(Math.floor(at / width), height), score };
  });
}

/** Wipes a top out, so that the next one can be found. */
function flatten({ width, height, im }: Spectrum, at: number): void {
  for (let dy = -3; dy <= 3; dy += 1) {
    for (let dx = -3; dx <= 3; dx += 1) {
      im[((Math.floor(at / width) + dy + height) % height) * width + (((at % width) + dx + width) % width)] = -Infinity;
    }
  }
}

/** Slopes of the correlation at a place between the samples. */
interface Slopes {
  readonly x: number;
  readonly y: number;
  readonly xx: number;
  readonly xy: number;
  readonly yy: number;
}

/** First and second derivatives of the sum over all frequencies of Re(R exp(2 pi i (kx x/W + ky y/H))). */
function slopesAt({ width, height, re, im }: Spectrum, x: number, y: number): Slopes {
  let [sx, sy, sxx, sxy, syy] = [0, 0, 0, 0, 0];
  const across = waves(width, x);
  const down = waves(height, y);
  for (let row = 0; row < height; row += 1) {
    const wy = down.frequency[row] as number;
    const cy = down.cos[row] as number;
    const ny = down.sin[row] as number;
    for (let col = 0; col < width; col += 1) {
      const i = row * width + col;
      const wx = across.frequency[col] as number;
      const c = (across.cos[col] as number) * cy - (across.sin[col] as number) * ny;
      const n = (across.sin[col] as number) * cy + (across.cos[col] as number) * ny;
      const real = (re[i] as number) * c - (im[i] as number) * n;
      const imaginary = (re[i] as number) * n + (im[i] as number) * c;
      sx -= wx * imaginary;
      sy -= wy * imaginary;
      sxx -= wx * wx * real;
      sxy -= wx * wy * real;
      syy -= wy * wy * real;
    }
  }
  return { x: sx, y: sy, xx: sxx, xy: sxy, yy: syy };
}

function waves(size: number, shift: number) {
  const frequency = Float64Array.from({ length: size }, (_, k) => (2 * Math.PI * (k >= size / 2 ? k - size : k)) / size);
  return { frequency, cos: frequency.map((w) => Math.cos(w * shift)), sin: frequency.map((w) => Math.sin(w * shift)) };
}

/** The top of the peak between the samples, by Newton's method; steps are held to half a pixel, and it stays within one of the sample. */
export function refinePeak(power: Spectrum, peak: Peak): { readonly x: number; readonly y: number } {
  let { x, y } = peak;
  for (let round = 0; round < 20; round += 1) {
    const s = slopesAt(power, x, y);
    const determinant = s.xx * s.yy - s.xy * s.xy;
    // Away from the very top the surface may not be a dome: then a plain step uphill of a quarter pixel.
    const isDome = determinant > 0 && s.xx < 0;
    const slope = Math.hypot(s.x, s.y);
    const dx = isDome ? -(s.yy * s.x - s.xy * s.y) / determinant : slope > 0 ? (0.25 * s.x) / slope : 0;
    const dy = isDome ? -(s.xx * s.y - s.xy * s.x) / determinant : slope > 0 ? (0.25 * s.y) / slope : 0;
    x = within(x + within(dx, 0.5), 1, peak.x);
    y = within(y + within(dy, 0.5), 1, peak.y);
    if (Math.hypot(dx, dy) < 1e-6) break;
  }
  return { x, y };
}

function within(value: number, most: number, around = 0): number {
  return Math.min(around + most, Math.max(around - most, value));
}
