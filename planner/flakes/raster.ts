import type { StageBox, StagePoint } from '../units/index.ts';

/** A grid of square samples laid over a part of the stage; sample (0, 0) has its outer corner at the origin. */
export interface Grid {
  readonly xMinUm: number;
  readonly yMinUm: number;
  readonly stepUm: number;
  readonly width: number;
  readonly height: number;
}

/** A grid over a box with samples of `stepUm`, or coarser where it would have more than `most` samples along one side. */
export function gridOver(box: StageBox, stepUm: number, most: number): Grid {
  const [wide, high] = [box.xMaxUm - box.xMinUm, box.yMaxUm - box.yMinUm];
  const step = Math.max(stepUm, wide / most, high / most, 1e-6);
  return { xMinUm: box.xMinUm, yMinUm: box.yMinUm, stepUm: step, width: Math.max(1, Math.ceil(wide / step)), height: Math.max(1, Math.ceil(high / step)) };
}

/** Sets every sample whose centre lies inside a polygon (even-odd rule) to `value`. */
export function fillPolygon(grid: Grid, polygon: readonly StagePoint[], into: Uint8Array | Int32Array, value: number): void {
  const crossings: number[] = [];
  for (let row = 0; row < grid.height; row++) {
    const yUm = grid.yMinUm + (row + 0.5) * grid.stepUm;
    crossings.length = 0;
    for (let i = 0, j = polygon.length - 1; i < polygon.length; j = i++) {
      const a = polygon[j] as StagePoint;
      const b = polygon[i] as StagePoint;
      if (a.yUm > yUm === b.yUm > yUm) continue;
      crossings.push(a.xUm + ((b.xUm - a.xUm) * (yUm - a.yUm)) / (b.yUm - a.yUm));
    }
    crossings.sort((p, q) => p - q);
    for (let k = 0; k + 1 < crossings.length; k += 2) {
      const from = Math.max(0, Math.ceil(((crossings[k] as number) - grid.xMinUm) / grid.stepUm - 0.5));
      const to = Math.min(grid.width, Math.ceil(((crossings[k + 1] as number) - grid.xMinUm) / grid.stepUm - 0.5));
      for (let col = from; col < to; col++) into[row * grid.width + col] = value;
    }
  }
}

export function boxOf(points: readonly StagePoint[]): StageBox {
  let [xMinUm, xMaxUm, yMinUm, yMaxUm] = [Infinity, -Infinity, Infinity, -Infinity];
  for (const p of points) {
    xMinUm = Math.min(xMinUm, p.xUm);
    xMaxUm = Math.max(xMaxUm, p.xUm);
    yMinUm = Math.min(yMinUm, p.yUm);
    yMaxUm = Math.max(yMaxUm, p.yUm);
  }
  return { xMinUm, xMaxUm, yMinUm, yMaxUm };
}

/** The box around boxes. */
export function boxAround(boxes: readonly StageBox[]): StageBox {
  let [xMinUm, xMaxUm, yMinUm, yMaxUm] = [Infinity, -Infinity, Infinity, -Infinity];
  for (const box of boxes) {
    xMinUm = Math.min(xMinUm, box.xMinUm);
    xMaxUm = Math.max(xMaxUm, box.xMaxUm);
    yMinUm = Math.min(yMinUm, box.yMinUm);
    yMaxUm = Math.max(yMaxUm, box.yMaxUm);
  }
  return { xMinUm, xMaxUm, yMinUm, yMaxUm };
}

/** The box that two boxes have in common; undefined when they are apart. */
export function commonBox(a: StageBox, b: StageBox): StageBox | undefined {
  const box = {
    xMinUm: Math.max(a.xMinUm, b.xMinUm), xMaxUm: Math.min(a.xMaxUm, b.xMaxUm), yMinUm: Math.max(a.yMinUm, b.yMinUm), yMaxUm: Math.min(a.yMaxUm, b.yMaxUm),
  };
  return box.xMinUm < box.xMaxUm && box.yMinUm < box.yMaxUm ? box : undefined;
}
