import { distanceToSegmentUm } from '../../geometry/measure.ts';
import type { StagePoint } from '../../units/index.ts';
import { boxOf, fillPolygon, gridOver } from '../raster.ts';
import type { Grid } from '../raster.ts';
import type { MeasuredTerrace } from '../types.ts';
import { boxGapUm, liesOn } from './neighbour.ts';
import type { Neighbour } from './neighbour.ts';
import type { Cleanliness } from './types.ts';

type Outline = readonly StagePoint[];

/** Samples along the terrace's longer side. */
const SAMPLES = 96;
const FINEST_UM = 0.2;
/** Less bare ground than this inside an outline cannot be told from how outline and area were measured. */
const LEAST_BARE = 0.06;

/** Smaller spots than this share of the terrace are noise. */
const SPOTTED = 0.01;

const CLEAN = 1;
const DIRTY = 2;

/**
 * How clean one terrace is: the share of it that dirt neither covers nor touches. Dirt spoils what lies under it and a rim of
 * `rimUm` around it, where the picture cannot tell them apart. What is missing of the area that the outline encloses and nothing
 * covers is bare ground: holes and cracks, which count as lost too, and so do the bubbles and specks that were left out when it was measured.
 * @param terraces all of the flake: those that lie on this one are no dirt
 */
export function cleanlinessOf(terraces: readonly MeasuredTerrace[], index: number, neighbours: readonly Neighbour[], rimUm: number): Cleanliness {
  const terrace = terraces[index];
  if (!terrace || terrace.outlineUm.length < 3) return { share: 0, blemishes: 0 };
  const { outlineUm } = terrace;
  const box = boxOf(outlineUm);
  const grid = gridOver(box, FINEST_UM, SAMPLES);
  const mask = new Uint8Array(grid.width * grid.height);
  fillPolygon(grid, outlineUm, mask, CLEAN);
  terraces.forEach((other, i) => i !== index && liesOn(other.outlineUm, outlineUm) && fillPolygon(grid, other.outlineUm, mask, 0));
  const whole = count(mask, CLEAN);
  const dirt = neighbours.filter((n) => n.isDirt && boxGapUm(n.boxUm, box) <= rimUm);
  const covered = coverBy(dirt, outlineUm, grid, mask);
  const bare = Math.max(0, whole - covered - terrace.areaUm2 / (grid.stepUm * grid.stepUm));
  const blemishes = dirt.filter((n) => n.outlinesUm.reduce((touched, outline) => spoilRim(grid, mask, outline, rimUm) || touched, false)).length;
  const lost = bare > LEAST_BARE * whole ? bare : 0;
  const spotted = terrace.blemishedShare ?? 0;
  const share = whole === 0 ? 0 : Math.max(0, (count(mask, CLEAN) - lost) / whole) * (1 - spotted);
  return { share, blemishes: blemishes + (spotted >= SPOTTED ? 1 : 0) };
}

/** Marks what dirt lies on; returns how many samples of the terrace that were. */
function coverBy(dirt: readonly Neighbour[], terrace: Outline, grid: Grid, mask: Uint8Array): number {
  const cover = new Uint8Array(mask.length);
  for (const outline of dirt.flatMap((n) => n.outlinesUm)) if (liesOn(outline, terrace)) fillPolygon(grid, outline, cover, 1);
  let covered = 0;
  for (let i = 0; i < mask.length; i++) {
    if (cover[i] !== 1 || mask[i] !== CLEAN) continue;
    mask[i] = DIRTY;
    covered++;
  }
  return covered;
}

/** Marks what lies within `rimUm` of an outline; true where there was any of the terrace, clean or already spoiled. */
function spoilRim(grid: Grid, mask: Uint8Array, outline: Outline, rimUm: number): boolean {
  let touched = false;
  outline.forEach((from, i) => {
    const to = outline[(i + 1) % outline.length] ?? from;
    const box = boxOf([from, to]);
    const clip = (value: number, most: number): number => Math.min(most, Math.max(0, Math.floor(value / grid.stepUm)));
    const [colEnd, rowEnd] = [clip(box.xMaxUm + rimUm - grid.xMinUm, grid.width - 1), clip(box.yMaxUm + rimUm - grid.yMinUm, grid.height - 1)];
    for (let row = clip(box.yMinUm - rimUm - grid.yMinUm, grid.height); row <= rowEnd; row++) {
      for (let col = clip(box.xMinUm - rimUm - grid.xMinUm, grid.width); col <= colEnd; col++) {
        const at = row * grid.width + col;
        if (mask[at] === 0 || distanceToSegmentUm(centreOf(grid, col, row), from, to) > rimUm) continue;
        mask[at] = DIRTY;
        touched = true;
      }
    }
  });
  return touched;
}

function centreOf(grid: Grid, col: number, row: number): StagePoint {
  return { xUm: grid.xMinUm + (col + 0.5) * grid.stepUm, yUm: grid.yMinUm + (row + 0.5) * grid.stepUm };
}

function count(mask: Uint8Array, value: number): number {
  let found = 0;
  for (const each of mask) if (each === value) found++;
  return found;
}
