import type { Detection, Flake, MeasuredTerrace, Terrace } from '../../planner/flakes/types.ts';
import { boundingBox, containsPoint } from '../../planner/geometry/polygon.ts';
import { fillingLogs, fillingWeights, readThrough, readTogether, type SecondLight } from '../../planner/layers/secondLight.ts';
import type { Ladder } from '../../planner/layers/types.ts';
import type { StagePoint } from '../../planner/units/index.ts';
import type { CloseUpTerrace } from '../records/types.ts';

/** Time that measuring and writing a close-up takes on a virtual clock. */
export const readMs = 400;
/** A flake is found again within this distance of where the first pass saw it: parcentric error, drift and slack, um. */
const mostShiftUm = 12;
/** Terraces of the same piece differ by no more than this factor in area. */
const mostAreaRatio = 2.5;

/** What a chip's close-ups are read with: its ladder, the same through the second objective, and what those before said of the light. */
export interface CloseUpReader {
  readonly ladder: Ladder;
  readonly light: SecondLight;
  /** How likely each filling of the aperture makes each terrace seen so far. */
  readonly witnesses: (readonly number[])[];
}

/**
 * The flake's terraces as the close-up shows them, matched by place, each with what it says of the layer number alone and together with
 * the first pass; the light is as those before it have shown it. Empty where the flake is not found again.
 */
export function readCloseUp(flake: Flake, detections: readonly Detection[], { ladder, light, witnesses }: CloseUpReader): readonly CloseUpTerrace[] {
  const { channels } = ladder.context;
  const weights = fillingWeights(light, witnesses);
  return matchTerraces(flake, detections)
    .filter(({ first, second }) => first.contrast.length === channels && second.contrast.length === channels)
    .map(({ index, first, second }): CloseUpTerrace => {
      const { contrast, contrastError, areaUm2 } = second;
      return { terrace: index, contrast, contrastError, areaUm2, call: readThrough(light, weights, second), together: readTogether(ladder, first, light, weights, second) };
    });
}

/** What a close-up that has been read says of the light, for those after it. */
export function addWitnesses({ light, witnesses }: CloseUpReader, flake: Pick<Flake, 'terraces'>, terraces: readonly CloseUpTerrace[]): void {
  for (const second of terraces) {
    const first = flake.terraces[second.terrace]?.call;
    if (first && first.layers !== null) witnesses.push(fillingLogs(light, first, second));
  }
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
