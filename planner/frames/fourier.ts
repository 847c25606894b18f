/** A complex picture: real and imaginary parts, row after row; both sides are powers of two. */
export interface Spectrum {
  readonly width: number;
  readonly height: number;
  readonly re: Float64Array;
  readonly im: Float64Array;
}

/** The largest power of two that is not above `size`. */
export function powerOfTwoWithin(size: number): number {
  return 2 ** Math.floor(Math.log2(size));
}

/**
 * Discrete Fourier transform in place, by rows and then by columns, with exp(-2 pi i k x/N) and no factor. For the inverse swap `re` and
 * `im` (that conjugates before and after) and divide by width times height. Throws RangeError for sides that are no powers of two.
 */
export function transform({ width, height, re, im }: Spectrum): void {
  const rowLine = line(width);
  for (let row = 0; row < height; row += 1) rowLine(re, im, row * width, 1);
  const columnLine = line(height);
  for (let column = 0; column < width; column += 1) columnLine(re, im, column, width);
}

type LineTransform = (re: Float64Array, im: Float64Array, start: number, stride: number) => void;

/** A transform of one line of `size` samples, gathered from and put back to `start`, `start + stride`, ... */
function line(size: number): LineTransform {
  if (powerOfTwoWithin(size) !== size) throw new RangeError(`Fourier transform of ${size} samples`);
  const re = new Float64Array(size);
  const im = new Float64Array(size);
  const cos = Float64Array.from({ length: size / 2 }, (_, k) => Math.cos((2 * Math.PI * k) / size));
  const sin = Float64Array.from({ length: size / 2 }, (_, k) => -Math.sin((2 * Math.PI * k) / size));
  const reversed = bitReversed(size);
  return (fromRe, fromIm, start, stride) => {
    for (let i = 0; i < size; i += 1) {
      const at = start + (reversed[i] as number) * stride;
      re[i] = fromRe[at] as number;
      im[i] = fromIm[at] as number;
    }
    butterflies(re, im, cos, sin);
    for (let i = 0; i < size; i += 1) {
      fromRe[start + i * stride] = re[i] as number;
      fromIm[start + i * stride] = im[i] as number;
    }
  };
}

function bitReversed(size: number): Uint32Array {
  const order = new Uint32Array(size);
  for (let i = 1; i < size; i += 1) order[i] = ((order[i >> 1] as number) >> 1) | (i & 1 ? size >> 1 : 0);
  return order;
}

/** Radix-2 decimation in time (Cooley and Tukey, Mathematics of Computation 19 (1965) 297; from memory), input in bit-reversed order. */
function butterflies(re: Float64Array, im: Float64Array, cos: Float64Array, sin: Float64Array): void {
  const size = re.length;
  for (let half = 1; half < size; half *= 2) {
    const turn = size / (2 * half);
    for (let block = 0; block < size; block += 2 * half) {
      for (let k = 0; k < half; k += 1) {
        const a = block + k;
        const b = a + half;
        const c = cos[k * turn] as number;
        const s = sin[k * turn] as number;
        const bRe = (re[b] as number) * c - (im[b] as number) * s;
        const bIm = (re[b] as number) * s + (im[b] as number) * c;
        re[b] = (re[a] as number) - bRe;
        im[b] = (im[a] as number) - bIm;
        re[a] = (re[a] as number) + bRe;
        im[a] = (im[a] as number) + bIm;
      }
    }
  }
}
