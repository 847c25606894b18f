import type { CameraFrame } from '../../drivers/interfaces/index.ts';
import { linearTable } from '../vision/linearise.ts';
import { samplesOf, type Samples } from '../vision/samples.ts';

/** Blocks along each side of a frame: enough of them for a robust mean, each of many samples. */
const GRID = 12;
/** Of larger frames only every so many rows are read: means of this many pixels are good enough. */
const ENOUGH_PIXELS = 500_000;

/** A frame as its blocks' means in linear light, full scale 1; interleaved by channel. NaN where a block has no sample. */
export interface BlockReading {
  readonly channels: 1 | 3;
  readonly means: Float64Array;
  /** 1 where a block has a saturated sample. */
  readonly isSaturated: Uint8Array;
  /** Share of all samples that are saturated. */
  readonly saturatedShare: number;
}

/**
 * Reads a frame block by block, so that it need not be kept.
 * @param hot samples that give much without light, as `readDark` names them
 * @throws VisionError for a malformed frame
 */
export function readBlocks(frame: CameraFrame, transfer: 'linear' | 'srgb', hot?: Int32Array): BlockReading {
  const samples = samplesOf(frame, hot);
  const { channels, heightPx, widthPx, fullScale } = samples;
  const sums = { means: new Float64Array(GRID * GRID * channels), counts: new Float64Array(GRID * GRID * channels), isSaturated: new Uint8Array(GRID * GRID * channels) };
  const table = linearTable(transfer, fullScale);
  const step = Math.max(1, Math.floor((widthPx * heightPx) / ENOUGH_PIXELS));
  const blockOf = Uint16Array.from({ length: widthPx }, (_, col) => Math.floor((col * GRID) / widthPx) * channels);
  let saturated = 0;
  let rows = 0;
  for (let row = 0; row < heightPx; row += step, rows++) saturated += addRow(samples, table, row, blockOf, sums);
  for (let i = 0; i < sums.means.length; i++) sums.means[i] = (sums.means[i] as number) / (sums.counts[i] as number);
  return { channels, means: sums.means, isSaturated: sums.isSaturated, saturatedShare: saturated / (rows * widthPx * channels) };
}

interface Sums {
  readonly means: Float64Array;
  readonly counts: Float64Array;
  readonly isSaturated: Uint8Array;
}

/** Adds one row of samples to its blocks; tells how many of them are saturated. */
function addRow({ data, channels, widthPx, heightPx, saturatedFrom }: Samples, table: Float32Array, row: number, blockOf: Uint16Array, { means, counts, isSaturated }: Sums): number {
  const base = Math.floor((row * GRID) / heightPx) * GRID * channels;
  let saturated = 0;
  let at = row * widthPx * channels;
  for (let col = 0; col < widthPx; col++) {
    const block = base + (blockOf[col] as number);
    for (let channel = block; channel < block + channels; channel++) {
      const sample = data[at++] as number;
      means[channel] = (means[channel] as number) + (table[sample] as number);
      counts[channel] = (counts[channel] as number) + 1;
      if (sample < saturatedFrom) continue;
      isSaturated[channel] = 1;
      saturated++;
    }
  }
  return saturated;
}
