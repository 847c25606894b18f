import type { Detection, RejectReason } from '../../planner/flakes/types.ts';
import { BLACK } from './cells.ts';
import type { Cells } from './cells.ts';
import type { Samples } from './samples.ts';
import { lowQuantile } from './statistics.ts';
import { hasMissingRows } from './torn.ts';
import type { FrameFault } from './types.ts';

/** The brightest tenth of a frame says whether it is black. */
const BRIGHTEST = 0.9;
/** Cells with more than half of their samples at full scale, beyond this share of the frame: saturated. */
const SATURATED_SHARE = 0.5;
/** Noise of one sample beyond this share of the substrate's level is none of a camera's: two or three hundred electrons give 0.06. */
const NOISY = 0.25;
/** Edges wider than this against the optics' own, all of them: out of focus. */
const BLURRED = 3;
/** Fewer things in view than this cannot tell. */
const DETECTIONS_LEAST = 3;

/** What a thing without regions says: nothing. */
const NONE = { inscribedUm: 0, edgeWidthRatio: Infinity };

/** Whether a frame has no usable light, or no picture in it at all. */
export function lightFault(samples: Samples, cells: Cells): FrameFault | undefined {
  if (lowQuantile(cells.mean, BRIGHTEST) < BLACK) return 'black';
  let full = 0;
  for (const share of cells.saturated) if (share > 0.5) full++;
  if (full > SATURATED_SHARE * cells.saturated.length) return 'saturated';
  if (hasMissingRows(cells)) return 'torn';
  return isEven(samples) ? 'noDetail' : undefined;
}

/** Every sample of a channel the same: light is never so even. */
function isEven({ data, channels }: Samples): boolean {
  for (let i = channels; i < data.length; i++) if (data[i] !== data[i - channels]) return false;
  return true;
}

/** Whether a frame is so noisy in every channel that bare oxide cannot be told from anything else. */
export function isNoise(noise: readonly number[]): boolean {
  return noise.every((n) => n > NOISY);
}

/** Bands of a blurred edge: too narrow for their own edges to say anything. */
const BANDS: ReadonlySet<RejectReason | undefined> = new Set<RejectReason>(['line', 'unevenInside']);

/**
 * Whether every edge of a frame is blurred, by the roundest region of each thing in view. A frame with next to nothing on it cannot
 * tell and is let through: it shows no flake.
 */
export function focusFault(detections: readonly Detection[]): FrameFault | undefined {
  const telling = detections.filter((d) => !BANDS.has(d.reject));
  const ratios = telling.map((d) => d.terraces.reduce((best, t) => (t.inscribedUm > best.inscribedUm ? t : best), NONE).edgeWidthRatio);
  return ratios.length >= DETECTIONS_LEAST && Math.min(...ratios) > BLURRED ? 'outOfFocus' : undefined;
}
