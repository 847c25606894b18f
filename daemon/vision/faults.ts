import type { Detection } from '../../planner/flakes/types.ts';
import type { Cells } from './cells.ts';
import { lowQuantile } from './statistics.ts';
import type { FrameFault } from './types.ts';

/** Mean light below this share of full scale in the brightest tenth of the frame: black. */
const BLACK = 0.004;
/** Cells with more than half of their samples at full scale, beyond this share of the frame: saturated. */
const SATURATED_SHARE = 0.5;
/** Edges wider than this against the optics' own, all of them: out of focus. */
const BLURRED = 3;
/** Fewer things in view than this cannot tell. */
const DETECTIONS_LEAST = 3;

/** What a thing without regions says: nothing. */
const NONE = { inscribedUm: 0, edgeWidthRatio: Infinity };

/** Whether a frame has no usable light at all. */
export function lightFault(cells: Cells): FrameFault | undefined {
  if (lowQuantile(cells.mean, 0.9) < BLACK) return 'black';
  let full = 0;
  for (const share of cells.saturated) if (share > 0.5) full++;
  return full > SATURATED_SHARE * cells.saturated.length ? 'saturated' : undefined;
}

/**
 * Whether every edge of a frame is blurred, by the roundest region of each thing in view (bands of a
 * blurred edge are narrow). A frame with next to nothing on it cannot
 * tell and is let through: it shows no flake.
 */
export function focusFault(detections: readonly Detection[]): FrameFault | undefined {
  const ratios = detections.map((d) => d.terraces.reduce((best, t) => (t.inscribedUm > best.inscribedUm ? t : best), NONE).edgeWidthRatio);
  return ratios.length >= DETECTIONS_LEAST && Math.min(...ratios) > BLURRED ? 'outOfFocus' : undefined;
}
