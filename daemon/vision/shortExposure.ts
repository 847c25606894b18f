import type { CameraFrame } from '../../drivers/interfaces/index.ts';
import { cellsOf, darkOf } from './cells.ts';
import type { Cells } from './cells.ts';
import type { ContrastImage } from './contrast.ts';
import { linearTable } from './linearise.ts';
import { samplesOf } from './samples.ts';
import type { Samples } from './samples.ts';
import { median } from './statistics.ts';
import type { OpticalContext } from './types.ts';

/** The measured ratio of the exposures must be the cameras' within this share, or the two frames do not belong together. */
const RATIO_TOLERANCE = 0.1;

/** The frame that is filled, as far as it is known. */
export interface LongFrame {
  readonly exposureMs: number;
  readonly samples: Samples;
  readonly cells: Cells;
  /** 1 for each cell of bare oxide. */
  readonly bare: Uint8Array;
}

/**
 * Fills saturated samples of an image from a frame of the same place at a shorter exposure. How much shorter is measured on the bare
 * oxide of both, so that neither lamp nor shutter need be exact; dark levels are taken off both. Changes the image: what the short
 * frame could measure is saturated no longer. Frames that do not belong together are left alone.
 * @throws VisionError for a malformed short frame
 */
export function fillFromShort(image: ContrastImage, long: LongFrame, short: CameraFrame, optics: OpticalContext): void {
  const samples = samplesOf(short, optics.masked);
  const { data, widthPx, fullScale } = long.samples;
  if (samples.data.length !== data.length || samples.widthPx !== widthPx || samples.fullScale !== fullScale) return;
  const table = linearTable(optics.transfer, samples.fullScale);
  const ratios = ratiosOf(long.cells, cellsOf(samples, table, optics.dark), long.bare);
  const told = long.exposureMs / short.exposureMs;
  if (!ratios.every((ratio) => Math.abs(ratio / told - 1) <= RATIO_TOLERANCE)) return;
  const left = new Uint8Array(image.saturated.length);
  for (const [channel, ratio] of ratios.entries()) {
    const known = shortOverLong(long.samples, samples, image.saturated, { channel, ratio, optics, left });
    const gain = 1 / (1 - (optics.flare[channel] ?? 0));
    applyRatios(image, channel, known, gain);
  }
  image.saturated.set(left);
}

/** Light of the long frame against that of the short one on bare oxide, per channel; 0 where the short one has none. */
function ratiosOf(long: Cells, short: Cells, bare: Uint8Array): readonly number[] {
  return Array.from({ length: long.channels }, (_, channel) => {
    const ratios: number[] = [];
    for (let cell = 0; cell < bare.length; cell++) {
      const at = cell * long.channels + channel;
      if (bare[cell] === 1 && (short.mean[at] as number) > 0) ratios.push((long.mean[at] as number) / (short.mean[at] as number));
    }
    return median(Float32Array.from(ratios));
  });
}

interface ChannelFill {
  readonly channel: number;
  readonly ratio: number;
  readonly optics: OpticalContext;
  /** Set to 1 where the short frame is saturated as well. */
  readonly left: Uint8Array;
}

/** True light over what the long frame shows, for the channel's saturated samples, at least where the short one is full too; NaN elsewhere. */
function shortOverLong(long: Samples, short: Samples, saturated: Uint8Array, { channel, ratio, optics, left }: ChannelFill): Float32Array {
  const table = linearTable(optics.transfer, short.fullScale);
  const { even, perSample } = darkOf(optics.dark, long);
  const known = new Float32Array(saturated.length).fill(NaN);
  for (let at = 0, i = channel; at < saturated.length; at++, i += long.channels) {
    if (saturated[at] === 0 || (long.data[i] as number) < long.saturatedFrom) continue;
    if ((short.data[i] as number) >= short.saturatedFrom) left[at] = 1;
    const dark = perSample ? (perSample[i] as number) : (even[channel] as number);
    const full = table[long.data[i] as number] as number;
    known[at] = (((table[short.data[i] as number] as number) - dark) * ratio) / Math.max(full - dark, 1e-6);
  }
  return known;
}

/**
 * Puts the known light into a plane, averaged over a sample and its four neighbours where they are known too: a frame of a quarter of
 * the light has four times the variance, and so is no noisier than what lies around it.
 */
function applyRatios({ planes, widthPx }: ContrastImage, channel: number, known: Float32Array, gain: number): void {
  const plane = planes[channel] as Float32Array;
  for (let at = 0; at < known.length; at++) {
    if (Number.isNaN(known[at])) continue;
    const col = at % widthPx;
    let [sum, count] = [known[at] as number, 1];
    for (const near of [col > 0 ? at - 1 : -1, col < widthPx - 1 ? at + 1 : -1, at - widthPx, at + widthPx]) {
      const value = known[near];
      if (value === undefined || Number.isNaN(value)) continue;
      sum += value;
      count++;
    }
    plane[at] = gain - ((gain - (plane[at] as number)) * sum) / count;
  }
}
