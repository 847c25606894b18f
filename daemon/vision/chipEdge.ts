import { edgesOf } from '../../planner/geometry/measure.ts';
import { straightRuns } from '../../planner/geometry/straightRuns.ts';
import { stageToPixel } from '../../planner/units/index.ts';
import type { FramePose, PixelPoint, StagePoint } from '../../planner/units/index.ts';
import type { Projector } from './edges.ts';
import { outlineOf } from './outline.ts';
import type { Division, Region } from './regions.ts';
import type { Window } from './window.ts';

/** Beside the chip it is far darker than oxide in every colour (nothing there), or far brighter (a metal holder). No thin film is either. */
const DARKER = 0.6;
const BRIGHTER = -1;
/** It runs along the frame's border for at least this share of the frame's shorter side. */
const ALONG_BORDER = 0.5;
/** A cleaved or sawn edge is straight: so much of the border towards the chip lies on pieces of at least this length. */
const STRAIGHT_SHARE = 0.5;
const STRAIGHT = { toleranceUm: 2.5, leastUm: 60, trimUm: 2, stepUm: 2 };
/** An outline within this many samples of the frame's border runs along it. */
const AT_BORDER_PX = 2;

/** Whether a region is what lies beyond the chip's edge: off in every colour, along the frame's border, and ending in a straight line. */
export function isBeyondChip(window: Window, division: Division, project: Projector, region: Region, pose: FramePose): boolean {
  const { mean } = region;
  if (!mean.every((c) => c > DARKER) && !mean.every((c) => c < BRIGHTER)) return false;
  if (borderSamples(window, division, region, pose) < ALONG_BORDER * Math.min(pose.widthPx, pose.heightPx)) return false;
  const outline = outlineOf(window, division, project, (label) => label === region.label, pose);
  const isInner = (from: StagePoint, to: StagePoint): boolean => {
    const middle = stageToPixel(pose, { xUm: (from.xUm + to.xUm) / 2, yUm: (from.yUm + to.yUm) / 2 });
    return !isAtBorder(middle, pose);
  };
  const inner = edgesOf(outline).filter((e) => isInner(e.from, e.to));
  const innerUm = inner.reduce((sum, { from, to }) => sum + Math.hypot(to.xUm - from.xUm, to.yUm - from.yUm), 0);
  const straightUm = straightRuns(outline, STRAIGHT).filter((run) => isInner(run.fromUm, run.toUm)).reduce((sum, run) => sum + run.lengthUm, 0);
  return innerUm > 0 ? straightUm >= STRAIGHT_SHARE * innerUm : true;
}

function isAtBorder({ colPx, rowPx }: PixelPoint, pose: FramePose): boolean {
  return Math.min(colPx, rowPx, pose.widthPx - colPx, pose.heightPx - rowPx) <= AT_BORDER_PX;
}

/** Samples of a region in the frame's outermost rows and columns. */
function borderSamples(window: Window, division: Division, region: Region, pose: FramePose): number {
  const { width, height, colFrom, rowFrom } = window;
  const { labels } = division;
  let count = 0;
  for (let col = 0; col < width; col++) {
    if (rowFrom === 0 && labels[col] === region.label) count++;
    if (rowFrom + height === pose.heightPx && labels[(height - 1) * width + col] === region.label) count++;
  }
  for (let row = 0; row < height; row++) {
    if (colFrom === 0 && labels[row * width] === region.label) count++;
    if (colFrom + width === pose.widthPx && labels[row * width + width - 1] === region.label) count++;
  }
  return count;
}
