import { simplify } from '../../planner/geometry/polygon.ts';
import { traceContours } from '../../planner/flakes/trace.ts';
import type { Contour } from '../../planner/flakes/trace.ts';
import { pixelToStage } from '../../planner/units/index.ts';
import type { FramePose, StagePoint } from '../../planner/units/index.ts';
import type { Projector } from './edges.ts';
import type { Division } from './regions.ts';
import type { Window } from './window.ts';

/** Corners that stray less than this from the line are dropped, in samples. */
const STRAY_PX = 0.3;

/** Part of a window that holds some labels, with one sample of rim where the window has it. */
interface Patch {
  readonly col: number;
  readonly row: number;
  readonly width: number;
  readonly height: number;
}

/** Holes of fewer samples than this are noise. */
const HOLE_LEAST = 4;

/** The edge of a set of regions, and of the holes in its largest part. */
export interface Edges {
  readonly outlineUm: readonly StagePoint[];
  readonly holesUm: readonly (readonly StagePoint[])[];
}

/** The outer edge alone. */
export function outlineOf(window: Window, division: Division, project: Projector, inside: (label: number) => boolean, pose: FramePose): readonly StagePoint[] {
  return edgesAround(window, division, project, inside, () => true, pose).outlineUm;
}

/**
 * The edge of a set of regions in stage um, between samples where the contrast is half way from one side to the other; of several parts
 * the largest is taken.
 * @param inside whether a label belongs to the set
 * @param fills whether what has this label lies on the set and makes no hole in it
 */
export function edgesAround(
  window: Window, division: Division, project: Projector, inside: (label: number) => boolean, fills: (label: number) => boolean, pose: FramePose,
): Edges {
  const patch = patchOf(window, division, inside);
  if (!patch) return { outlineUm: [], holesUm: [] };
  const field = new Float32Array(patch.width * patch.height);
  for (let row = 0; row < patch.height; row++) {
    for (let col = 0; col < patch.width; col++) {
      field[row * patch.width + col] = membership(window, division, project, inside, patch.col + col, patch.row + row);
    }
  }
  const [largest, ...others] = traceContours(field, patch.width, patch.height);
  if (!largest) return { outlineUm: [], holesUm: [] };
  const labelAt = (col: number, row: number): number => division.labels[(patch.row + row) * window.width + patch.col + col] ?? 0;
  const holes = others.filter((c) => c.area <= -HOLE_LEAST && !fills(labelBehind(c, (col, row) => labelAt(col, row), inside)));
  const line = (contour: Contour): readonly StagePoint[] => onStage(contour, window.colFrom + patch.col, window.rowFrom + patch.row, pose);
  return { outlineUm: line(largest), holesUm: holes.map(line).filter((hole) => hole.length >= 3) };
}

/** Label on the far side of a contour: of the two samples that its first corner lies between, the one outside of the set. */
function labelBehind({ cols, rows }: Contour, labelAt: (col: number, row: number) => number, inside: (label: number) => boolean): number {
  const [col, row] = [(cols[0] as number) - 0.5, (rows[0] as number) - 0.5];
  const label = labelAt(Math.floor(col), Math.floor(row));
  return inside(label) ? labelAt(Math.ceil(col), Math.ceil(row)) : label;
}

function onStage(contour: Contour, col0: number, row0: number, pose: FramePose): readonly StagePoint[] {
  const points = contour.cols.map((c, i) => pixelToStage(pose, { colPx: c + col0, rowPx: (contour.rows[i] as number) + row0 }));
  const pixelUm = Math.sqrt(Math.abs(pose.cameraToStageUm[0] * pose.cameraToStageUm[3] - pose.cameraToStageUm[1] * pose.cameraToStageUm[2]));
  return simplify(points, STRAY_PX * pixelUm);
}

function patchOf(window: Window, division: Division, inside: (label: number) => boolean): Patch | undefined {
  const boxes = division.regions.filter((r) => r.label > 0 && r.count > 0 && inside(r.label)).map((r) => r.box);
  if (boxes.length === 0) return undefined;
  const col = Math.max(0, Math.min(...boxes.map((b) => b.colFrom)) - 1);
  const row = Math.max(0, Math.min(...boxes.map((b) => b.rowFrom)) - 1);
  const colEnd = Math.min(window.width, Math.max(...boxes.map((b) => b.colEnd)) + 1);
  const rowEnd = Math.min(window.height, Math.max(...boxes.map((b) => b.rowEnd)) + 1);
  return { col, row, width: colEnd - col, height: rowEnd - row };
}

/** 1 well inside, 0 well outside; at the border the share of the step that the sample has made, kept on its own side of a half. */
function membership(window: Window, division: Division, project: Projector, inside: (label: number) => boolean, col: number, row: number): number {
  const { width, height } = window;
  const { labels } = division;
  const at = row * width + col;
  const own = labels[at] as number;
  const isIn = inside(own);
  let other = -1;
  if (col > 0 && inside(labels[at - 1] as number) !== isIn) other = labels[at - 1] as number;
  if (col < width - 1 && inside(labels[at + 1] as number) !== isIn) other = labels[at + 1] as number;
  if (row > 0 && inside(labels[at - width] as number) !== isIn) other = labels[at - width] as number;
  if (row < height - 1 && inside(labels[at + width] as number) !== isIn) other = labels[at + width] as number;
  if (other < 0) return isIn ? 1 : 0;
  const p = isIn ? project.share(other, own, at) : project.share(own, other, at);
  return isIn ? Math.min(1, Math.max(0.501, p)) : Math.max(0, Math.min(0.499, p));
}
