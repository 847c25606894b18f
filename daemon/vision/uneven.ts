import { varianceAt } from './noise.ts';
import type { Division, Region } from './regions.ts';
import type { Window } from './window.ts';

/** Calls `visit` for every sample of a region, in reading order. */
export function forEachSample(window: Window, division: Division, region: Region, visit: (at: number, col: number, row: number) => void): void {
  const { box } = region;
  for (let row = box.rowFrom; row < box.rowEnd; row++) {
    for (let col = box.colFrom; col < box.colEnd; col++) {
      const at = row * window.width + col;
      if (division.labels[at] === region.label) visit(at, col, row);
    }
  }
}

/** Root mean square spread of a region's inner samples over what noise explains; 1 is even. */
export function unevenness(window: Window, division: Division, region: Region): number {
  let sum = 0;
  let count = 0;
  const channels = window.planes.length;
  forEachSample(window, division, region, (at) => {
    if ((division.depth[at] as number) < region.coreDepth) return;
    for (let c = 0; c < channels; c++) {
      const mean = region.mean[c] as number;
      const off = ((window.planes[c] as Float32Array)[at] as number) - mean;
      sum += (off * off) / varianceAt(window.noise[c] as number, mean);
    }
    count += channels;
  });
  return count <= channels ? 1 : Math.sqrt(sum / (count - channels));
}
