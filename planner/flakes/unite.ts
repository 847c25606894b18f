import { containsPoint, simplify } from '../geometry/polygon.ts';
import type { StageBox, StagePoint } from '../units/index.ts';
import { inscribedInMask } from './inscribed.ts';
import { boxOf, fillPolygon, gridOver } from './raster.ts';
import type { Grid } from './raster.ts';
import { traceContours } from './trace.ts';
import type { Detection, MeasuredTerrace } from './types.ts';

/** Grid that pieces are put together on: this fine, or coarser for flakes of more than a thousand steps. */
const STEP_UM = 0.4;
const MOST_STEPS = 1200;

/**
 * Puts together a flake that no frame shows whole, from the views that each show a part. Terraces of the same contrast that overlap are
 * one; where views disagree the thinner, smaller terrace lies on top.
 */
export function uniteViews(views: readonly Detection[]): Detection {
  const groups = sameTerraces(views);
  const grid = gridOver(padded(boxOf(views.flatMap((v) => v.outlineUm))), STEP_UM, MOST_STEPS);
  const sizes = groups.map((g) => Math.max(...g.map((t) => t.areaUm2)));
  const order = groups.map((_, i) => i).sort((a, b) => (sizes[b] as number) - (sizes[a] as number));
  const labels = new Int32Array(grid.width * grid.height);
  for (const i of order) {
    const pieces = groups[i] ?? [];
    for (const terrace of pieces) fillPolygon(grid, terrace.outlineUm, labels, i + 1);
    for (const hole of pieces.flatMap((terrace) => terrace.holesUm ?? [])) fillPolygon(grid, hole, labels, 0);
  }
  const terraces = order.flatMap((i) => asTerrace(grid, labels, i + 1, groups[i] ?? []));
  terraces.sort((a, b) => b.areaUm2 - a.areaUm2);
  const outlineUm = traceLabel(grid, labels, (label) => label > 0);
  const touchesFrameEdge = views.every((v) => v.touchesFrameEdge);
  return { terraces, outlineUm, areaUm2: terraces.reduce((sum, t) => sum + t.areaUm2, 0), touchesFrameEdge };
}

/** Edge of a whole flake from the edges of its terraces: that of the base where it holds all others, else of what they cover together. */
export function outlineAround(terraces: readonly MeasuredTerrace[]): readonly StagePoint[] {
  const drawn = terraces.map((t) => t.outlineUm).filter((outline) => outline.length >= 3);
  const [base = []] = drawn;
  if (drawn.every((outline) => outline === base || outline.every((p) => containsPoint(base, p)))) return base;
  const grid = gridOver(padded(boxOf(drawn.flat())), STEP_UM, MOST_STEPS);
  const labels = new Int32Array(grid.width * grid.height);
  for (const outline of drawn) fillPolygon(grid, outline, labels, 1);
  return traceLabel(grid, labels, (label) => label > 0);
}

function padded(box: StageBox): StageBox {
  return { xMinUm: box.xMinUm - 1, xMaxUm: box.xMaxUm + 1, yMinUm: box.yMinUm - 1, yMaxUm: box.yMaxUm + 1 };
}

/** Terraces of all views sorted into groups that are one terrace each. */
function sameTerraces(views: readonly Detection[]): readonly (readonly MeasuredTerrace[])[] {
  const groups: MeasuredTerrace[][] = [];
  for (const view of views) {
    for (const terrace of view.terraces) {
      const group = groups.find((g) => g.some((t) => alike(t, terrace) && overlap(t, terrace)));
      if (group) group.push(terrace);
      else groups.push([terrace]);
    }
  }
  return groups;
}

/** Contrasts that could be of one thickness: within three standard errors and three hundredths in every channel. */
function alike(a: MeasuredTerrace, b: MeasuredTerrace): boolean {
  return a.contrast.every((c, i) => {
    const error = Math.hypot(a.contrastError[i] as number, b.contrastError[i] as number);
    return Math.abs(c - (b.contrast[i] as number)) < 3 * error + 0.01 + 0.03 * Math.abs(c);
  });
}

function overlap(a: MeasuredTerrace, b: MeasuredTerrace): boolean {
  const [p, q] = [boxOf(a.outlineUm), boxOf(b.outlineUm)];
  return p.xMinUm < q.xMaxUm && q.xMinUm < p.xMaxUm && p.yMinUm < q.yMaxUm && q.yMinUm < p.yMaxUm;
}

function asTerrace(grid: Grid, labels: Int32Array, label: number, group: readonly MeasuredTerrace[]): readonly MeasuredTerrace[] {
  const [first] = group;
  const mask = new Uint8Array(labels.length);
  let samples = 0;
  for (let i = 0; i < mask.length; i++) {
    if (labels[i] !== label) continue;
    mask[i] = 1;
    samples++;
  }
  const outlineUm = traceLabel(grid, labels, (l) => l === label);
  const total = group.reduce((sum, t) => sum + t.areaUm2, 0);
  const mean = (of: (t: MeasuredTerrace) => number): number => group.reduce((sum, t) => sum + t.areaUm2 * of(t), 0) / total;
  const holesUm = group.flatMap((t) => t.holesUm ?? []);
  const spoiled = mean((t) => t.blemishedShare ?? 0);
  if (!first || samples === 0 || outlineUm.length < 3) return [];
  const circle = inscribedInMask(mask, grid.width, grid.height);
  return [
    {
      outlineUm,
      areaUm2: samples * grid.stepUm * grid.stepUm,
      contrast: first.contrast.map((_, c) => mean((t) => t.contrast[c] as number)),
      contrastError: first.contrastError.map((_, c) => mean((t) => t.contrastError[c] as number)),
      edgeWidthRatio: mean((t) => t.edgeWidthRatio),
      unevenness: mean((t) => t.unevenness),
      inscribedUm: 2 * circle.radiusPx * grid.stepUm,
      inscribedCentreUm: { xUm: grid.xMinUm + circle.colPx * grid.stepUm, yUm: grid.yMinUm + circle.rowPx * grid.stepUm },
      saturatedShare: mean((t) => t.saturatedShare),
      ...(holesUm.length > 0 ? { holesUm } : {}),
      ...(spoiled > 0 ? { blemishedShare: spoiled } : {}),
      halo: mean((t) => t.halo ?? 0),
    },
  ];
}

function traceLabel(grid: Grid, labels: Int32Array, inside: (label: number) => boolean): readonly StagePoint[] {
  // A plain loop: with a function of its own for each sample, `from` is the slowest of all that is done here.
  const field = new Float32Array(labels.length);
  for (let i = 0; i < field.length; i++) if (inside(labels[i] as number)) field[i] = 1;
  const [largest] = traceContours(field, grid.width, grid.height);
  if (!largest) return [];
  const points = largest.cols.map((c, i): StagePoint => ({ xUm: grid.xMinUm + c * grid.stepUm, yUm: grid.yMinUm + (largest.rows[i] as number) * grid.stepUm }));
  return simplify(points, grid.stepUm / 2);
}
