/**
 * A picture made of plane waves, so that it can be shifted by any part of a pixel exactly. The waves come from a linear congruential
 * generator (1664525, 1013904223, Numerical Recipes; from memory) so that the same picture can be made by other programs.
 */
export function generator(seed: number): () => number {
  let state = seed >>> 0;
  return () => {
    state = (Math.imul(state, 1664525) + 1013904223) >>> 0;
    return state / 2 ** 32;
  };
}

/** A better generator for noise, whose neighbouring seeds and numbers are unrelated (mulberry32; from memory). */
export function noiseGenerator(seed: number): () => number {
  let state = Math.imul(seed + 1, 2654435761);
  return () => {
    state = (state + 0x6d2b79f5) | 0;
    let mixed = Math.imul(state ^ (state >>> 15), 1 | state);
    mixed = (mixed + Math.imul(mixed ^ (mixed >>> 7), 61 | mixed)) ^ mixed;
    return ((mixed ^ (mixed >>> 14)) >>> 0) / 2 ** 32;
  };
}

export interface Wave {
  readonly perCol: number;
  readonly perRow: number;
  readonly phase: number;
}

/** Waves with a whole number of periods over `sizePx`, up to `most` periods: a picture that repeats without a seam. */
export function seamlessWaves(seed: number, count: number, most: number, sizePx: number): readonly Wave[] {
  const next = generator(seed);
  return Array.from({ length: count }, () => {
    const perCol = (2 * Math.PI * (Math.floor(next() * (2 * most + 1)) - most)) / sizePx;
    const perRow = (2 * Math.PI * (Math.floor(next() * (2 * most + 1)) - most)) / sizePx;
    return { perCol, perRow, phase: 2 * Math.PI * next() };
  });
}

/** Waves of any length down to 2 pi/`most` pixels: band-limited noise without a period. */
export function freeWaves(seed: number, count: number, most: number): readonly Wave[] {
  const next = noiseGenerator(seed);
  return Array.from({ length: count }, () => ({ perCol: most * (2 * next() - 1), perRow: most * (2 * next() - 1), phase: 2 * Math.PI * next() }));
}

/** The picture with its content moved by (colPx, rowPx), plus pixel noise of the given standard deviation (the picture's own is 1). */
export function wavePicture(waves: readonly Wave[], widthPx: number, heightPx: number, colPx: number, rowPx: number, noise = 0, noiseSeed = 1) {
  const next = noiseGenerator(noiseSeed);
  const data = new Float64Array(widthPx * heightPx);
  for (let row = 0; row < heightPx; row += 1) {
    for (let col = 0; col < widthPx; col += 1) {
      let sum = 0;
      for (const wave of waves) sum += Math.cos(wave.perCol * (col - colPx) + wave.perRow * (row - rowPx) + wave.phase);
      // Twelve even random numbers add up to nearly a Gaussian one of standard deviation 1.
      let gauss = -6;
      if (noise > 0) for (let i = 0; i < 12; i += 1) gauss += next();
      data[row * widthPx + col] = sum / Math.sqrt(waves.length / 2) + (noise > 0 ? noise * gauss : 0);
    }
  }
  return { widthPx, heightPx, data };
}
