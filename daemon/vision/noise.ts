import { CELL_PX } from './cells.ts';
import type { Cells } from './cells.ts';
import type { ContrastImage } from './contrast.ts';
import { median } from './statistics.ts';

/**
 * Noise of one sample's contrast on bare oxide, per channel: from differences of neighbours within bare cells, which slow changes of
 * light do not touch. Their root mean square within four spreads, over the square root of two: unlike a median it is not fooled by
 * the camera's steps.
 */
export function noiseOf(image: ContrastImage, cells: Cells, bare: Uint8Array): readonly number[] {
  const every = Math.max(1, Math.floor(bare.reduce((sum, b) => sum + b, 0) / 60));
  return image.planes.map((plane) => {
    const differences: number[] = [];
    let nth = 0;
    for (let cell = 0; cell < bare.length; cell++) {
      if (bare[cell] === 0 || nth++ % every !== 0) continue;
      addDifferences(image, plane, cell % cells.columns, Math.floor(cell / cells.columns), differences);
    }
    return Math.max(1e-4, clippedRms(differences) / Math.SQRT2);
  });
}

function clippedRms(differences: readonly number[]): number {
  const sizes = new Float32Array(differences.length);
  for (let i = 0; i < sizes.length; i++) sizes[i] = Math.abs(differences[i] as number);
  const limit = 4 * 1.4826 * median(sizes) + 1e-6;
  let sum = 0;
  let count = 0;
  for (const d of differences) {
    if (Math.abs(d) > limit) continue;
    sum += d * d;
    count++;
  }
  return Math.sqrt(sum / Math.max(1, count));
}

function addDifferences(image: ContrastImage, plane: Float32Array, column: number, row: number, differences: number[]): void {
  const rowEnd = Math.min(image.heightPx, (row + 1) * CELL_PX);
  const colEnd = Math.min(image.widthPx, (column + 1) * CELL_PX) - 1;
  for (let r = row * CELL_PX; r < rowEnd; r++) {
    for (let c = column * CELL_PX; c < colEnd; c += 2) {
      const at = r * image.widthPx + c;
      differences.push((plane[at + 1] as number) - (plane[at] as number));
    }
  }
}

/**
 * Variance of one sample's contrast where the contrast is C, from that on bare oxide: photon noise goes with the light, and a
 * twentieth of it stays for reading and rounding.
 */
export function varianceAt(noise: number, contrast: number): number {
  return noise * noise * Math.max(0.05, 1 - contrast);
}
