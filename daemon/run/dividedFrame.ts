import type { CameraFrame } from '../../drivers/interfaces/index.ts';
import { sliceOf, type FocusSlice } from '../../planner/focus/frameFocus.ts';
import { pixelToStage, type FramePose, type StagePoint } from '../../planner/units/index.ts';

/** The frame is put together in squares of this side: across one, the height of a tilted chip changes by less than a tenth of a um. */
const squarePx = 16;

/**
 * One frame put together from exposures at several heights of one place: each square comes from the exposure that serves the height of
 * the surface there. What surrounds a seam is equally sharp on both sides of it.
 * @param frames one per slice, all of the same size
 * @param heightAt height of focus at a place of the stage, in the same heights as the slices
 */
export function putTogether(frames: readonly CameraFrame[], slices: readonly FocusSlice[], pose: FramePose, heightAt: (at: StagePoint) => number): CameraFrame | undefined {
  const [first] = frames;
  if (!first || frames.some(({ data }) => data.length !== first.data.length)) return undefined;
  const { widthPx, heightPx } = first;
  const channels = first.data.length / (widthPx * heightPx);
  const data = first.data.slice();
  for (let y = 0; y < heightPx; y += squarePx) {
    for (let x = 0; x < widthPx; x += squarePx) {
      const middle = { colPx: (x + squarePx / 2) * (pose.widthPx / widthPx), rowPx: (y + squarePx / 2) * (pose.heightPx / heightPx) };
      const from = frames[sliceOf(slices, heightAt(pixelToStage(pose, middle)))];
      if (!from || from === first) continue;
      for (let row = y; row < Math.min(heightPx, y + squarePx); row++) {
        const start = (row * widthPx + x) * channels;
        data.set(from.data.subarray(start, start + Math.min(squarePx, widthPx - x) * channels), start);
      }
    }
  }
  return { ...first, data };
}
