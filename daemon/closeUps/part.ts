import { bayerPattern } from '../../drivers/frames/bayer.ts';
import type { CameraFrame, Region } from '../../drivers/interfaces/index.ts';
import { boundingBox } from '../../planner/geometry/polygon.ts';
import { stageToPixel, type FramePose, type StagePoint } from '../../planner/units/index.ts';

/** The box about an outline with a rim, in pixels of a frame, on even ones (the pattern of a mosaic then stays), and as much of it as lies in the frame; the whole frame where none does. */
export function regionAbout(outlineUm: readonly StagePoint[], rimUm: number, pose: FramePose): Region {
  const { xMinUm, xMaxUm, yMinUm, yMaxUm } = boundingBox(outlineUm);
  const corners = [xMinUm - rimUm, xMaxUm + rimUm].flatMap((xUm) => [yMinUm - rimUm, yMaxUm + rimUm].map((yUm) => stageToPixel(pose, { xUm, yUm })));
  const span = (values: readonly number[], side: number): readonly [number, number] => {
    const from = 2 * Math.floor(Math.max(0, Math.min(...values)) / 2);
    const to = Math.min(side & ~1, 2 * Math.ceil(Math.max(...values) / 2));
    return to > from ? [from, to] : [0, side & ~1];
  };
  const [left, right] = span(corners.map(({ colPx }) => colPx), pose.widthPx);
  const [upper, lower] = span(corners.map(({ rowPx }) => rowPx), pose.heightPx);
  return { colPx: left, rowPx: upper, widthPx: right - left, heightPx: lower - upper };
}

/** Pixels of the camera along one side of a pixel of the picture for people. */
export function shownBinning(frame: CameraFrame): 1 | 2 {
  return bayerPattern(frame.pixelFormat) ? 2 : 1;
}
