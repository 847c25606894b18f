import type { Detection, MeasuredTerrace } from '../../../planner/flakes/types.ts';
import type { FramePose, StagePoint } from '../../../planner/units/index.ts';
import type { BookContext } from '../../../planner/flakes/book.ts';

export const context: BookContext = {
  chip: 'A', material: 'graphene', oxideNm: 290, numericalAperture: 0.3, lamp: 'halogen', whiteBalance: 'mirror', layersFrom: 1, layersTo: 4, leastUsableUm: 4,
};

/** A frame of 200 um by 160 um. */
export const pose = (xUm: number, yUm = 0): FramePose => ({ centreUm: { xUm, yUm }, cameraToStageUm: [0.5, 0, 0, 0.5], widthPx: 400, heightPx: 320 });

export function box(xUm: number, yUm: number, wideUm: number, highUm: number): readonly StagePoint[] {
  return [{ xUm, yUm }, { xUm: xUm + wideUm, yUm }, { xUm: xUm + wideUm, yUm: yUm + highUm }, { xUm, yUm: yUm + highUm }];
}

/** Contrasts on 290 nm oxide as the optics' own table has them would mark their own homework: these are the measured 0.09 to 0.33 of Ni et al. 2007 (from memory), in red and green alike. */
export const MEASURED = [0.09, 0.175, 0.255, 0.33] as const;

export function terrace(outlineUm: readonly StagePoint[], contrast: number): MeasuredTerrace {
  const [a, , c] = outlineUm as [StagePoint, StagePoint, StagePoint];
  const [wide, high] = [c.xUm - a.xUm, c.yUm - a.yUm];
  return {
    outlineUm, areaUm2: wide * high, contrast: [contrast, contrast, 0.05 * contrast], contrastError: [0.002, 0.002, 0.002], edgeWidthRatio: 1.1, unevenness: 1,
    inscribedUm: Math.min(wide, high), inscribedCentreUm: { xUm: a.xUm + wide / 2, yUm: a.yUm + high / 2 }, saturatedShare: 0,
  };
}

export function detection(outlineUm: readonly StagePoint[], contrast: number, touchesFrameEdge = false): Detection {
  const one = terrace(outlineUm, contrast);
  return { terraces: [one], outlineUm, areaUm2: one.areaUm2, touchesFrameEdge };
}
