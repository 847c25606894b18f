import type { StageBox, StagePoint } from '../../units/index.ts';
import type { Flake } from '../types.ts';
import { fitBarOnFlake } from './barOnFlake.ts';
import type { BarOnFlake } from './barOnFlake.ts';
import { boxOf } from '../raster.ts';
import { boxGapUm, isDirtReason } from './neighbour.ts';

/** A circle and an area are measured to about so much, as a share: a bar is not ruled out by less. */
const MARGIN = 1.1;

/**
 * Outlines of what lies on a flake and a bar must keep clear of: residue, dust, scratches that touch the box around it.
 * @param others what else was found on the chip; the flake itself may be among them
 */
export function dirtOn(flake: Flake, others: Iterable<Flake>): readonly (readonly StagePoint[])[] {
  const outline = flake.terraces[0]?.outlineUm ?? [];
  if (outline.length < 3) return [];
  const box = boxOf(flake.terraces.flatMap((terrace) => terrace.outlineUm));
  const found: (readonly StagePoint[])[] = [];
  for (const { id, chip, reject, terraces } of others) {
    if (id === flake.id || chip !== flake.chip || !isDirtReason(reject)) continue;
    for (const { outlineUm } of terraces) if (outlineUm.length >= 3 && boxGapUm(keptBox(outlineUm), box) === 0) found.push(outlineUm);
  }
  return found;
}

const boxes = new WeakMap<readonly StagePoint[], StageBox>();

/** The box of an outline, kept: thousands of rejects are looked at for every flake. */
function keptBox(outlineUm: readonly StagePoint[]): StageBox {
  const known = boxes.get(outlineUm);
  if (known) return known;
  const made = boxOf(outlineUm);
  boxes.set(outlineUm, made);
  return made;
}

/** False when a bar of this size cannot lie on the part of a flake that counts: it is wider than the largest circle there, or larger than all of it. */
export function barMayFit(flake: Flake, lengthUm: number, widthUm: number): boolean {
  const short = Math.min(lengthUm, widthUm);
  return flake.terraces.some(
    (terrace) => flake.layers !== null && terrace.call.layers === flake.layers && terrace.inscribedUm * MARGIN >= short && terrace.areaUm2 * MARGIN >= lengthUm * widthUm,
  );
}

/**
 * How a bar lies on the part of a flake that counts, clear of what lies on it; undefined where it does not fit. The search takes
 * milliseconds, so what cannot fit is not searched.
 */
export function barThatFits(flake: Flake, others: Iterable<Flake>, lengthUm: number, widthUm: number): BarOnFlake | undefined {
  if (flake.layers === null || !barMayFit(flake, lengthUm, widthUm)) return undefined;
  const found = fitBarOnFlake(flake, flake.layers, lengthUm, widthUm, dirtOn(flake, others));
  return found?.fits ? found : undefined;
}
