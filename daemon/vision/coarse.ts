import type { Cells } from './cells.ts';
import { valueAt } from './quadratic.ts';
import { cellPlace } from './substrate.ts';
import type { Substrate } from './substrate.ts';
import type { FrameMeasurement } from './types.ts';

/** Cells that are off the substrate by more than this show something on the chip; less may be the shadow of dust on the sensor. */
const FAR_OFF = 0.08;
/** And no more uneven inside than this many times the bare cells. */
const UNEVEN = 1.5;

/**
 * The cells that may go into the flat field: bare oxide, and what differs from it little and softly, which the median over frames
 * sorts out. Light as it fell on the sensor, not divided by any flat field.
 */
export function coarseOf(cells: Cells, levels: Float32Array, substrate: Substrate): FrameMeasurement['coarse'] {
  const { columns, rows, channels, mean, deviation } = cells;
  const values = Float32Array.from(mean);
  const usual = bareDeviation(cells, substrate);
  for (let cell = 0; cell < columns * rows; cell++) {
    const [x, y] = cellPlace(cells, cell);
    let usable = true;
    for (let c = 0; c < channels; c++) {
      const at = cell * channels + c;
      const level = valueAt(substrate.surface[c] ?? [0, 0, 0, 0, 0, 0], x, y);
      if (Math.abs((levels[at] as number) / Math.max(level, 1e-6) - 1) > FAR_OFF) usable = false;
      if ((deviation[at] as number) > UNEVEN * (usual[c] as number) * Math.sqrt(Math.max(mean[at] as number, 1e-6))) usable = false;
    }
    if (!usable) values.fill(NaN, cell * channels, (cell + 1) * channels);
  }
  return { columns, rows, channels, values };
}

/** Deviation over the square root of the light, averaged over bare cells, per channel. */
function bareDeviation(cells: Cells, substrate: Substrate): readonly number[] {
  return Array.from({ length: cells.channels }, (_, c) => {
    let sum = 0;
    let count = 0;
    for (let cell = 0; cell < substrate.bare.length; cell++) {
      if (substrate.bare[cell] === 0) continue;
      const at = cell * cells.channels + c;
      sum += (cells.deviation[at] as number) / Math.sqrt(Math.max(cells.mean[at] as number, 1e-6));
      count++;
    }
    return sum / Math.max(1, count);
  });
}
