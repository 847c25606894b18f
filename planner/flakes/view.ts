import { pixelToStage } from '../units/index.ts';
import type { FramePose, StageBox, StagePoint } from '../units/index.ts';
import { boxOf, commonBox, fillPolygon, gridOver } from './raster.ts';
import { keepDetection, wholeDetection, type KeptDetection } from './kept.ts';
import type { Detection, MeasuredTerrace } from './types.ts';

/** One detection as one tile's frame shows it, moved to where the registered tile lies. */
export interface View {
  readonly tile: number;
  readonly detection: KeptDetection;
  /** The corners of the frame that it was seen in, registered. */
  readonly fieldUm: readonly StagePoint[];
  readonly box: StageBox;
}

/** The field of a frame on the stage, as its four corners in order. */
export function fieldOf(pose: FramePose): readonly StagePoint[] {
  const { widthPx, heightPx } = pose;
  const corners = [[0, 0], [widthPx, 0], [widthPx, heightPx], [0, heightPx]] as const;
  return corners.map(([colPx, rowPx]) => pixelToStage(pose, { colPx, rowPx }));
}

/** A detection moved by an offset in um. */
export function moveDetection(detection: Detection, dxUm: number, dyUm: number): Detection {
  if (dxUm === 0 && dyUm === 0) return detection;
  const move = (p: StagePoint): StagePoint => ({ xUm: p.xUm + dxUm, yUm: p.yUm + dyUm });
  const terraces = detection.terraces.map((t): MeasuredTerrace => ({ ...t, outlineUm: t.outlineUm.map(move), inscribedCentreUm: move(t.inscribedCentreUm), ...(t.holesUm ? { holesUm: t.holesUm.map((hole) => hole.map(move)) } : {}) }));
  return { ...detection, terraces, outlineUm: detection.outlineUm.map(move) };
}

export function viewOf(tile: number, detection: Detection, fieldUm: readonly StagePoint[]): View {
  return { tile, detection: keepDetection(detection), fieldUm, box: boxOf(detection.outlineUm) };
}

export function moveView(view: View, dxUm: number, dyUm: number): View {
  const fieldUm = view.fieldUm.map((p): StagePoint => ({ xUm: p.xUm + dxUm, yUm: p.yUm + dyUm }));
  return viewOf(view.tile, moveDetection(wholeDetection(view.detection), dxUm, dyUm), fieldUm);
}

/** Samples along the longer side when two outlines are compared. */
const COMPARE_SAMPLES = 64;

/**
 * How much two views show the same thing: of the smaller one's part in the field that both frames have in common, the share that the
 * other covers; 0 to 1.
 */
export function sharedShare(a: View, b: View): number {
  const box = commonBox(a.box, b.box);
  if (!box) return 0;
  const all = { xMinUm: Math.min(a.box.xMinUm, b.box.xMinUm), xMaxUm: Math.max(a.box.xMaxUm, b.box.xMaxUm), yMinUm: Math.min(a.box.yMinUm, b.box.yMinUm), yMaxUm: Math.max(a.box.yMaxUm, b.box.yMaxUm) };
  const grid = gridOver(all, 0.25, COMPARE_SAMPLES);
  const masks = [wholeDetection(a.detection).outlineUm, wholeDetection(b.detection).outlineUm, a.fieldUm, b.fieldUm].map((polygon) => {
    const mask = new Uint8Array(grid.width * grid.height);
    fillPolygon(grid, polygon, mask, 1);
    return mask;
  });
  const [inA, inB, fieldA, fieldB] = masks as [Uint8Array, Uint8Array, Uint8Array, Uint8Array];
  let [onlyA, onlyB, both] = [0, 0, 0];
  for (let i = 0; i < inA.length; i++) {
    if (fieldA[i] === 0 || fieldB[i] === 0) continue;
    if (inA[i] === 1) onlyA++;
    if (inB[i] === 1) onlyB++;
    if (inA[i] === 1 && inB[i] === 1) both++;
  }
  const least = Math.min(onlyA, onlyB);
  return least === 0 ? 0 : both / least;
}
