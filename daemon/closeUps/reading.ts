import type { Detection, Flake, MeasuredTerrace, Terrace } from '../../planner/flakes/types.ts';
import { boundingBox, containsPoint } from '../../planner/geometry/polygon.ts';
import { readContrast } from '../../planner/layers/posterior.ts';
import { ladderThrough, readTogether } from '../../planner/layers/secondLight.ts';
import type { Ladder } from '../../planner/layers/types.ts';
import type { StagePoint } from '../../planner/units/index.ts';
import type { CloseUpTerrace } from '../records/types.ts';

/** Time that measuring and writing a close-up takes on a virtual clock. */
export const readMs = 400;
/** A flake is found again within this distance of where the first pass saw it: parcentric error, drift and slack, um. */
const mostShiftUm = 12;
/** Terraces of the same piece differ by no more than this factor in area. */
const mostAreaRatio = 2.5;

/**
 * The flake's terraces as the close-up shows them, matched by place, each with what it says of the layer number alone and together with
 * the first pass. Empty where the flake is not found again.
 * @param ladder the chip's, as the first pass has fitted it; without one there are no numbers
 * @param numericalAperture of the cone that the close-up is lit with
 */
export function readCloseUp(flake: Flake, detections: readonly Detection[], ladder: Ladder | undefined, numericalAperture: number): readonly CloseUpTerrace[] {
  if (!ladder) return [];
  const { channels } = ladder.context;
  const seen = matchTerraces(flake, detections).filter(({ first, second }) => first.contrast.length === channels && second.contrast.length === channels);
  if (seen.length === 0) return [];
  const through = ladderThrough(ladder, numericalAperture);
  return seen.map(({ index, first, second }): CloseUpTerrace => {
    const { contrast, contrastError, areaUm2 } = second;
    return { terrace: index, contrast, contrastError, areaUm2, call: readContrast(through, second), together: readTogether(ladder, first, through, second) };
  });
}

interface Match {
  readonly index: number;
  readonly first: Terrace;
  readonly second: MeasuredTerrace;
}

/** Each terrace of the close-up is given to one of the flake at most: the one whose middle it holds and whose size is nearest. */
export function matchTerraces(flake: Pick<Flake, 'terraces' | 'centreUm'>, detections: readonly Detection[]): readonly Match[] {
  const terraces = detections.flatMap((detection) => detection.terraces);
  const shift = shiftOf(flake, detections);
  const taken = new Set<MeasuredTerrace>();
  return flake.terraces.flatMap((first, index): readonly Match[] => {
    const { xUm, yUm } = first.inscribedCentreUm;
    const at = { xUm: xUm + shift.xUm, yUm: yUm + shift.yUm };
    const apart = (t: MeasuredTerrace): number => Math.abs(Math.log(t.areaUm2 / first.areaUm2));
    const [second] = terraces.filter((t) => !taken.has(t) && apart(t) <= Math.log(mostAreaRatio) && containsPoint(t.outlineUm, at)).sort((a, b) => apart(a) - apart(b));
    if (!second) return [];
    taken.add(second);
    return [{ index, first, second }];
  });
}

/** By how much the close-up shows the flake elsewhere than the first pass: from the middles of its box, where all of it is in the picture; else nothing. */
export function shiftOf(flake: Pick<Flake, 'terraces' | 'centreUm'>, detections: readonly Detection[]): StagePoint {
  const middle = middleOf(flake.terraces.flatMap((t) => t.outlineUm));
  const areaUm2 = Math.max(...flake.terraces.map((t) => t.areaUm2));
  const shifts = detections
    .filter((d) => !d.touchesFrameEdge && Math.max(...d.terraces.map((t) => t.areaUm2)) < mostAreaRatio * areaUm2 && Math.max(...d.terraces.map((t) => t.areaUm2)) > areaUm2 / mostAreaRatio)
    .map((d) => {
      const found = middleOf(d.outlineUm);
      return { xUm: found.xUm - middle.xUm, yUm: found.yUm - middle.yUm };
    })
    .filter(({ xUm, yUm }) => Math.hypot(xUm, yUm) <= mostShiftUm)
    .sort((a, b) => Math.hypot(a.xUm, a.yUm) - Math.hypot(b.xUm, b.yUm));
  return shifts[0] ?? { xUm: 0, yUm: 0 };
}

function middleOf(outlineUm: readonly StagePoint[]): StagePoint {
  const { xMinUm, xMaxUm, yMinUm, yMaxUm } = boundingBox(outlineUm);
  return { xUm: (xMinUm + xMaxUm) / 2, yUm: (yMinUm + yMaxUm) / 2 };
}
