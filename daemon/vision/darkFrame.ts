import type { CameraFrame } from '../../drivers/interfaces/index.ts';
import { VisionError } from './errors.ts';
import { linearTable } from './linearise.ts';
import { samplesOf } from './samples.ts';

/** What a camera gives without light, in linear full-scale units, as the samples of `samplesOf` lie. */
export interface DarkReading {
  /** Mean of each channel, hot samples left out. */
  readonly levels: readonly number[];
  /** Every sample's own, in memory that threads share. */
  readonly perSample: Float32Array;
  /** Samples that give so much without light that they are better left out, ascending. */
  readonly hot: Int32Array;
}

/**
 * More than this above its channel's level is hot: its own noise then is that of the light, and its range is lost. Less is taken off
 * exactly. Common practice, no source.
 */
const HOT = 0.05;

/**
 * Reads frames taken without light; several are averaged.
 * @throws VisionError for a malformed frame, `wrongLength` when they are not of one size or there is none
 */
export function readDark(frames: readonly CameraFrame[], transfer: 'linear' | 'srgb'): DarkReading {
  const [first, ...rest] = frames.map((frame) => samplesOf(frame));
  if (!first) throw new VisionError('wrongLength', { expected: 1, found: 0 });
  const perSample = new Float32Array(new SharedArrayBuffer(4 * first.data.length));
  const table = linearTable(transfer, first.fullScale);
  for (const samples of [first, ...rest]) {
    if (samples.data.length !== perSample.length || samples.fullScale !== first.fullScale) throw new VisionError('wrongLength', { expected: perSample.length, found: samples.data.length });
    for (let i = 0; i < perSample.length; i++) perSample[i] = (perSample[i] as number) + (table[samples.data[i] as number] as number) / frames.length;
  }
  const levels = Array.from({ length: first.channels }, (_, channel) => levelOf(perSample, first.channels, channel));
  const hot: number[] = [];
  for (let i = 0; i < perSample.length; i++) if ((perSample[i] as number) - (levels[i % first.channels] as number) > HOT) hot.push(i);
  return { levels, perSample, hot: Int32Array.from(hot) };
}

/** Mean of a channel without its hot samples. */
function levelOf(perSample: Float32Array, channels: number, channel: number): number {
  const mean = meanBelow(perSample, channels, channel, Infinity);
  return meanBelow(perSample, channels, channel, mean + HOT);
}

function meanBelow(perSample: Float32Array, channels: number, channel: number, limit: number): number {
  let sum = 0;
  let count = 0;
  for (let i = channel; i < perSample.length; i += channels) {
    const value = perSample[i] as number;
    if (value > limit) continue;
    sum += value;
    count++;
  }
  return count === 0 ? 0 : sum / count;
}
