import type { Detection } from '../../planner/flakes/types.ts';
import { centroid } from '../../planner/geometry/polygon.ts';
import { pixelAreaUm2, stageToPixel, type FramePose, type PixelPoint, type StagePoint } from '../../planner/units/index.ts';

/** One place of the frame at which something was seen. */
interface Spot extends PixelPoint {
  /** In how many frames. */
  readonly frames: number;
  /** Where on the stage it would have been when it was last seen. */
  readonly atUm: StagePoint;
}

/** What shows at the same place of the frame wherever the stage stands: dust on the sensor and its window, not on a chip. */
export interface FixedSpots {
  readonly spots: readonly Spot[];
}

export const noFixedSpots: FixedSpots = { spots: [] };

/** Two sightings this near to each other are of one spot: the outline of a faint shadow moves by a few pixels with noise. */
const SAME_PLACE_PX = 5;
/** Seen in so many frames taken at different places, it belongs to the camera. */
const FRAMES_LEAST = 3;
/** Places remembered; beyond it those seen only once are forgotten. */
const SPOTS_MOST = 2000;

/**
 * Remembers where things were seen in one frame. What shows at one place of the frame and of the stage as well is counted once: a
 * place that is looked at twice shows its flakes twice.
 */
export function addSightings(state: FixedSpots, detections: readonly Detection[], pose: FramePose): FixedSpots {
  const spots = [...state.spots];
  const sameUm = SAME_PLACE_PX * Math.sqrt(pixelAreaUm2(pose.cameraToStageUm));
  for (const detection of detections) {
    const atUm = centroid(detection.outlineUm);
    const place = stageToPixel(pose, atUm);
    const at = spots.findIndex((spot) => near(spot, place));
    const known = spots[at];
    if (!known) spots.push({ ...place, frames: 1, atUm });
    else if (Math.hypot(known.atUm.xUm - atUm.xUm, known.atUm.yUm - atUm.yUm) > sameUm) spots[at] = { ...known, frames: known.frames + 1, atUm };
  }
  return { spots: spots.length > SPOTS_MOST ? spots.filter((spot) => spot.frames > 1) : spots };
}

/** Marks what lies on a fixed spot as no flake; all else is handed back as it is. */
export function rejectFixed(state: FixedSpots, detections: readonly Detection[], pose: FramePose): readonly Detection[] {
  const fixed = state.spots.filter((spot) => spot.frames >= FRAMES_LEAST);
  if (fixed.length === 0) return detections;
  return detections.map((d) => {
    const place = placeOf(d, pose);
    return fixed.some((spot) => near(spot, place)) ? { ...d, reject: 'sensorDust' } : d;
  });
}

function placeOf(detection: Detection, pose: FramePose): PixelPoint {
  return stageToPixel(pose, centroid(detection.outlineUm));
}

function near(a: PixelPoint, b: PixelPoint): boolean {
  return Math.hypot(a.colPx - b.colPx, a.rowPx - b.rowPx) <= SAME_PLACE_PX;
}
