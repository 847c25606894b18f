import { signedAreaUm2 } from '../geometry/polygon.ts';
import type { Polygon } from '../geometry/polygon.ts';
import { outlinePolygon } from '../plan/outline.ts';
import type { Outline } from '../plan/types.ts';
import { distanceUm } from '../units/index.ts';
import type { ChipPoint, StagePoint } from '../units/index.ts';

/** How a chip lies on the stage: where its own origin is, and how far its x axis is turned from the stage's +x towards +y. */
export interface ChipFrame {
  readonly originUm: StagePoint;
  readonly angleDeg: number;
}

/** A mark that is known in the chip's frame and was found again on the stage. */
export interface MarkPair {
  readonly chipUm: ChipPoint;
  readonly stageUm: StagePoint;
}

export type MarksResult =
  | {
      readonly ok: true;
      readonly frame: ChipFrame;
      /** Distance of the marks on the stage less that on the chip. With two marks this is the only check there is. */
      readonly misfitUm: number;
    }
  | { readonly ok: false; readonly refusal: MarksRefusal };

export type MarksRefusal =
  /** So near to each other that they do not settle the angle. */
  | { readonly code: 'marksTooClose'; readonly apartUm: number; readonly leastUm: number }
  /** Their distance on the stage is not that on the chip: a wrong mark, or another chip. */
  | { readonly code: 'marksContradict'; readonly misfitUm: number; readonly allowedUm: number };

/** Marks nearer than this give an angle worse than 1 mrad at a stage repeatability of 1 um. */
const LEAST_APART_UM = 1000;

/** Chip coordinates of a place on the stage; the inverse of {@link toStage}. */
export function toChip(frame: ChipFrame, point: StagePoint): ChipPoint {
  const [cos, sin] = turn(frame);
  const dx = point.xUm - frame.originUm.xUm;
  const dy = point.yUm - frame.originUm.yUm;
  return { xUm: dx * cos + dy * sin, yUm: dy * cos - dx * sin };
}

/** Place on the stage of chip coordinates; the inverse of {@link toChip}. */
export function toStage(frame: ChipFrame, point: ChipPoint): StagePoint {
  const [cos, sin] = turn(frame);
  return {
    xUm: frame.originUm.xUm + point.xUm * cos - point.yUm * sin,
    yUm: frame.originUm.yUm + point.xUm * sin + point.yUm * cos,
  };
}

function turn(frame: ChipFrame): readonly [number, number] {
  const angle = (frame.angleDeg * Math.PI) / 180;
  return [Math.cos(angle), Math.sin(angle)];
}

/**
 * The chip's own frame from its outline on the stage, right-handed. Rectangle: the corner of lowest local x and y, x along the width.
 * Polygon: x along its longest edge (the first of equals), with the chip on the side of positive y, origin where that edge begins.
 * Circle: its middle, along the stage's axes. Throws RangeError for a polygon without corners.
 */
export function chipFrameOf(outline: Outline): ChipFrame {
  if (outline.shape === 'circle') return { originUm: outline.centreUm, angleDeg: 0 };
  const corners = outlinePolygon(outline);
  const [originUm] = corners;
  if (!originUm) throw new RangeError('chip frame of an outline without corners');
  return outline.shape === 'rectangle' ? { originUm, angleDeg: outline.angleDeg } : alongLongestEdge(corners, originUm);
}

function alongLongestEdge(corners: Polygon<'stage'>, first: StagePoint): ChipFrame {
  const next = (i: number) => corners[(i + 1) % corners.length] ?? first;
  const longest = corners.reduce((best, corner, i) => (distanceUm(corner, next(i)) > distanceUm(corners[best] ?? first, next(best)) ? i : best), 0);
  const begin = corners[longest] ?? first;
  const end = next(longest);
  const isCounterClockwise = signedAreaUm2(corners) >= 0;
  const [from, to] = isCounterClockwise ? [begin, end] : [end, begin];
  return { originUm: from, angleDeg: directionDeg(from, to) };
}

function directionDeg(from: { xUm: number; yUm: number }, to: { xUm: number; yUm: number }): number {
  return (Math.atan2(to.yUm - from.yUm, to.xUm - from.xUm) * 180) / Math.PI;
}

/**
 * The chip frame from two marks: a turn and a shift that bring the line between them into line and their middles together. The scale
 * stays 1, for a chip does not grow; what is left of the distance is the misfit, halved onto the two marks. Handedness is taken as
 * unchanged (a chip lies face up), and a half turn cannot be told from swapped marks: that takes a look at the picture.
 * @param allowedMisfitUm refuse beyond this; without it the misfit is only reported
 */
export function chipFrameFromMarks(first: MarkPair, second: MarkPair, allowedMisfitUm = Infinity): MarksResult {
  const onChipUm = distanceUm(first.chipUm, second.chipUm);
  const onStageUm = distanceUm(first.stageUm, second.stageUm);
  const apartUm = Math.min(onChipUm, onStageUm);
  if (!(apartUm >= LEAST_APART_UM)) return { ok: false, refusal: { code: 'marksTooClose', apartUm, leastUm: LEAST_APART_UM } };
  const misfitUm = onStageUm - onChipUm;
  if (Math.abs(misfitUm) > allowedMisfitUm) return { ok: false, refusal: { code: 'marksContradict', misfitUm, allowedUm: allowedMisfitUm } };
  const angleDeg = wrapDeg(directionDeg(first.stageUm, second.stageUm) - directionDeg(first.chipUm, second.chipUm));
  const middle = middleOf(first.stageUm, second.stageUm);
  const turned = toStage({ originUm: { xUm: 0, yUm: 0 }, angleDeg }, middleOf(first.chipUm, second.chipUm));
  return { ok: true, misfitUm, frame: { originUm: { xUm: middle.xUm - turned.xUm, yUm: middle.yUm - turned.yUm }, angleDeg } };
}

function middleOf<P extends { readonly xUm: number; readonly yUm: number }>(a: P, b: P): { xUm: number; yUm: number } {
  return { xUm: (a.xUm + b.xUm) / 2, yUm: (a.yUm + b.yUm) / 2 };
}

function wrapDeg(angle: number): number {
  return angle - 360 * Math.round(angle / 360);
}
