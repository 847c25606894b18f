import type { CameraFrame } from '../../drivers/interfaces/index.ts';
import { darkOf } from './cells.ts';
import type { Cells } from './cells.ts';
import { cellsOf } from './cells.ts';
import type { ContrastImage } from './contrast.ts';
import { linearTable } from './linearise.ts';
import { samplesOf } from './samples.ts';
import type { Samples } from './samples.ts';
import { median } from './statistics.ts';
import type { OpticalContext } from './types.ts';

/** The measured ratio of the exposures must be the cameras' within this share, or the two frames do not belong together. */
const RATIO_TOLERANCE = 0.1;

/**
 * Fills saturated samples of an image from a frame of the same place at a shorter exposure. How much shorter is measured on the bare
 * oxide of both, so that neither lamp nor shutter need be exact; dark levels are taken off both. Changes the image: what the short
 * frame could measure is saturated no longer. Frames that do not belong together are left alone.
 * @param cells of the long frame
 * @param bare cells that are bare oxide
 * @throws VisionError for a malformed short frame
 */
export function fillFromShort(image: ContrastImage, long: { readonly frame: CameraFrame; readonly samples: Samples; readonly cells: Cells; readonly bare: Uint8Array }, short: CameraFrame, optics: OpticalContext): void {
  const { samples, cells } = long;
  const brief = samplesOf(short, optics.masked);
  if (brief.data.length !== samples.data.length || brief.widthPx !== samples.widthPx || brief.channels !== samples.channels) return;
  const table = linearTable(optics.transfer, brief.fullScale);
  const ratios = ratiosOf(cells, cellsOf(brief, table, optics.dark), long.bare);
  const told = long.frame.exposureMs / short.exposureMs;
  if (!ratios.every((ratio) => Math.abs(ratio / told - 1) <= RATIO_TOLERANCE)) return;
  const { even, perSample } = darkOf(optics.dark, samples);
  const longTable = linearTable(optics.transfer, samples.fullScale);
  const { saturated, planes } = image;
  for (let at = 0; at < saturated.length; at++) {
    if (saturated[at] === 0) continue;
    let left = 0;
    for (let channel = 0; channel < planes.length; channel++) {
      const i = at * planes.length + channel;
      if ((samples.data[i] as number) < samples.saturatedFrom) continue;
      if ((brief.data[i] as number) >= brief.saturatedFrom) {
        left = 1;
        continue;
      }
      const dark = perSample ? (perSample[i] as number) : (even[channel] as number);
      const light = ((table[brief.data[i] as number] as number) - dark) * (ratios[channel] as number);
      const full = (longTable[samples.data[i] as number] as number) - dark;
      const gain = 1 / (1 - (optics.flare[channel] ?? 0));
      const plane = planes[channel] as Float32Array;
      plane[at] = gain - ((gain - (plane[at] as number)) * light) / full;
    }
    saturated[at] = left;
  }
}

/** Light of the long frame against that of the short one on bare oxide, per channel. */
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
