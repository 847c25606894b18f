import { bayerPattern } from '../../drivers/frames/bayer.ts';
import type { CameraFrame } from '../../drivers/interfaces/index.ts';
import type { Samples } from '../../planner/focus/texture.ts';

/** Samples compared are this far apart along a row: the measure's own definition. */
const stepPx = 2;

/** So many rows are put together: the noise of single samples falls, an edge across them stays. */
const ROWS_TOGETHER = 4;

/**
 * Focus measure of one frame: the mean squared difference of samples two apart along a row over the squared mean, so that it does not
 * follow the lamp. Brenner et al. 1976, J. Histochem. Cytochem. 24, 100 (citation from memory). Rows are put together first, since of a faint
 * flake the edges are a few hundredths of what single samples' noise makes of the sum. Uses the middle channel of a colour frame; of a mosaic,
 * differences and rows of one colour. Dimensionless; larger is sharper.
 */
export function focusMeasure(frame: CameraFrame): number {
  const { data, widthPx, heightPx } = frame;
  const channels = data.length / (widthPx * heightPx);
  const apart = bayerPattern(frame.pixelFormat) ? 2 : 1;
  const together = heightPx >= apart * ROWS_TOGETHER ? ROWS_TOGETHER : 1;
  const line = new Float64Array(widthPx);
  let energy = 0;
  let sum = 0;
  let count = 0;
  for (let top = 0; top + apart * together <= heightPx; top += apart * together) {
    for (let colour = 0; colour < apart; colour++) {
      line.fill(0);
      for (let n = 0; n < together; n++) addRow(line, data, ((top + colour + n * apart) * widthPx) * channels + (channels >> 1), channels);
      for (let col = 0; col < widthPx - stepPx; col++) {
        const here = line[col] as number;
        const step = (line[col + stepPx] as number) - here;
        energy += step * step;
        sum += here;
      }
      count += widthPx - stepPx;
    }
  }
  return sum === 0 ? 0 : (energy * count) / (sum * sum);
}

function addRow(line: Float64Array, data: CameraFrame['data'], start: number, stride: number): void {
  for (let col = 0, at = start; col < line.length; col++, at += stride) line[col] = (line[col] as number) + (data[at] as number);
}

/** A frame's samples for the planner. */
export function samplesOf({ data, widthPx, heightPx }: CameraFrame): Samples {
  return { data, widthPx, heightPx, channels: data.length / (widthPx * heightPx) };
}

/** A place in a frame, as shares of its width and height from its upper left corner. */
export interface FramePlace {
  readonly right: number;
  readonly down: number;
}

const cellsAlong = 16;

/**
 * Where in a frame the texture lies that a focus search focused on: the centre of what is sharper in one frame than in the other, cell by
 * cell. What does not change with focus (noise, dust on the sensor) cancels. On a tilted chip focus holds for this place and not for the
 * frame's middle. Undefined where nothing stands out.
 */
export function textureCentre(sharp: CameraFrame, blurred: CameraFrame): FramePlace | undefined {
  if (sharp.widthPx !== blurred.widthPx || sharp.heightPx !== blurred.heightPx) return undefined;
  const before = cellEnergies(blurred);
  const gains = cellEnergies(sharp).map((energy, i) => energy - (before[i] ?? 0));
  const usual = [...gains].sort((a, b) => a - b)[gains.length >> 1] ?? 0;
  let [sum, right, down] = [0, 0, 0];
  gains.forEach((gain, i) => {
    const weight = Math.max(0, gain - 2 * Math.max(0, usual));
    sum += weight;
    right += weight * (((i % cellsAlong) + 0.5) / cellsAlong);
    down += weight * ((Math.floor(i / cellsAlong) + 0.5) / cellsAlong);
  });
  return sum > 0 ? { right: right / sum, down: down / sum } : undefined;
}

/** Sum of squared differences over cells of the frame, row by row. */
function cellEnergies({ data, widthPx, heightPx }: CameraFrame): Float64Array {
  const channels = data.length / (widthPx * heightPx);
  const energies = new Float64Array(cellsAlong * cellsAlong);
  for (let row = 0; row < heightPx; row += heightPx >= 2 * cellsAlong ? 2 : 1) {
    const cellRow = Math.floor((row * cellsAlong) / heightPx) * cellsAlong;
    for (let col = 0; col < widthPx - stepPx; col++) {
      const at = (row * widthPx + col) * channels + (channels >> 1);
      const step = (data[at + stepPx * channels] as number) - (data[at] as number);
      const cell = cellRow + Math.floor((col * cellsAlong) / widthPx);
      energies[cell] = (energies[cell] as number) + step * step;
    }
  }
  return energies;
}
