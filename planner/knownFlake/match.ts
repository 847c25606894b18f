import type { Detection, MeasuredTerrace } from '../flakes/types.ts';
import { boundingBox, containsPoint } from '../geometry/polygon.ts';
import { distanceUm, type StagePoint } from '../units/index.ts';

/** What the known flake is looked for by. */
export interface Sought {
  readonly atUm: StagePoint;
  /** Nothing farther than this from the place is taken for it. */
  readonly withinUm: number;
  /** Contrast per channel of its layers by the tables; another number of channels, or none, is not compared. */
  readonly contrast: readonly number[];
  /** Its area as seen before, where it was. */
  readonly areaUm2?: number;
}

/** Tables, wafers and cameras together change a contrast by less than this factor either way. */
const mostContrastRatio = 2;
/** Two pictures of one terrace differ in area by less than this factor. */
const mostAreaRatio = 2.5;

/** A terrace that may be the known one, and where its middle lies. */
export interface FoundTerrace {
  readonly terrace: MeasuredTerrace;
  readonly middleUm: StagePoint;
}

/**
 * The terrace that is taken for the known flake: like it in contrast and, where that is known, in area; the one that the place lies on, else the nearest.
 * A flake cut by the frame's edge or rejected by the frame is none. Undefined where there is no such terrace.
 */
export function findKnownFlake(detections: readonly Detection[], sought: Sought): FoundTerrace | undefined {
  const all = detections
    .filter(({ reject, touchesFrameEdge }) => reject === undefined && !touchesFrameEdge)
    .flatMap(({ terraces }) => terraces.map((terrace): FoundTerrace => ({ terrace, middleUm: middleOfBox(terrace.outlineUm) })));
  const away = ({ terrace, middleUm }: FoundTerrace): number => (containsPoint(terrace.outlineUm, sought.atUm) ? 0 : distanceUm(middleUm, sought.atUm));
  return all.filter(({ terrace }) => isAlike(terrace, sought)).filter((each) => away(each) <= sought.withinUm).sort((a, b) => away(a) - away(b))[0];
}

function isAlike({ contrast, areaUm2 }: MeasuredTerrace, sought: Sought): boolean {
  if (sought.areaUm2 !== undefined && Math.abs(Math.log(areaUm2 / sought.areaUm2)) > Math.log(mostAreaRatio)) return false;
  if (sought.contrast.length !== contrast.length) return true;
  const strongest = sought.contrast.reduce((best, value, i) => (Math.abs(value) > Math.abs(sought.contrast[best] ?? 0) ? i : best), 0);
  const ratio = (contrast[strongest] ?? 0) / (sought.contrast[strongest] ?? 1);
  return ratio > 1 / mostContrastRatio && ratio < mostContrastRatio;
}

function middleOfBox(outlineUm: readonly StagePoint[]): StagePoint {
  const { xMinUm, xMaxUm, yMinUm, yMaxUm } = boundingBox(outlineUm);
  return { xUm: (xMinUm + xMaxUm) / 2, yUm: (yMinUm + yMaxUm) / 2 };
}
