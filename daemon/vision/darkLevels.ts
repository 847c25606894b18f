import type { CameraFrame } from '../../drivers/interfaces/index.ts';
import { linearTable } from './linearise.ts';
import { samplesOf } from './samples.ts';

/** Mean level of a frame taken without light, per channel, in linear full-scale units. @throws VisionError for a malformed frame */
export function darkLevels(frame: CameraFrame, transfer: 'linear' | 'srgb'): readonly number[] {
  const { channels, data, fullScale } = samplesOf(frame);
  const table = linearTable(transfer, fullScale);
  const sums = new Float64Array(channels);
  for (let i = 0; i < data.length; i++) sums[i % channels] = (sums[i % channels] as number) + (table[data[i] as number] as number);
  return Array.from(sums, (sum) => (sum * channels) / Math.max(1, data.length));
}
