import { inscribedRectangle } from '../../geometry/inscribedRectangle.ts';
import type { StagePoint } from '../../units/index.ts';
import type { BookContext } from '../context.ts';
import { isMostlyOffCurve } from '../company.ts';
import { rankOf, rankParts } from '../rank.ts';
import { boxOf } from '../raster.ts';
import type { Flake } from '../types.ts';
import { cleanlinessOf } from './cleanliness.ts';
import { clearanceOf } from './clearance.ts';
import { edgesOfFlake } from './edges.ts';
import { boxGapUm, visibleRegion } from './neighbour.ts';
import type { Neighbour } from './neighbour.ts';
import { notesOf } from './notes.ts';
import { resolutionUm } from './resolution.ts';

/**
 * A flagged flake with what its shape and its neighbourhood say: largest bar, straight edges and their family, room for a stamp,
 * cleanliness, notes, and the parts of its rank (which cleanliness now counts in). Other flakes come back as they are: nobody picks
 * them up, and there are thousands. Clearance and cleanliness are those of the neighbours given: they are old when a neighbour is found
 * later, until the flake itself changes or the whole book is read again.
 * @param wholeUm edge of the whole flake; where most of that is film or residue, the terrace that counts stands alone
 * @param neighbours what else is on the chip; the flake itself may be among them
 */
export function surveyed(flake: Flake, wholeUm: readonly StagePoint[], neighbours: readonly Neighbour[], context: BookContext): Flake {
  const index = flake.terraces.findIndex((t) => t.call.layers === flake.layers && t.inscribedUm === flake.usableUm);
  const usable = flake.terraces[index];
  const outlineUm = usable && isMostlyOffCurve(flake.terraces) ? usable.outlineUm : wholeUm;
  if (flake.verdict !== 'flagged' || !usable || outlineUm.length < 3) return flake;
  const elementUm = resolutionUm(context.numericalAperture);
  const box = boxOf(outlineUm);
  const others = neighbours.filter((n) => n.id !== flake.id);
  const near = others.filter((n) => n.isDirt && boxGapUm(n.boxUm, box) <= elementUm);
  const cleanliness = cleanlinessOf(flake.terraces, index, near, elementUm);
  const region = visibleRegion(flake.terraces, index, near.flatMap((n) => n.outlinesUm));
  const bar = region && inscribedRectangle(region);
  const { edges, family } = edgesOfFlake(flake.terraces, elementUm);
  const parts = rankParts(usable, context, cleanliness.share);
  return {
    ...flake,
    ...(bar ? { bar } : {}),
    edges,
    ...(family ? { edgeFamily: family } : {}),
    clearance: clearanceOf(outlineUm, flake.centreUm, others),
    cleanliness,
    notes: notesOf(flake.terraces, index, edges, { resolutionUm: elementUm, leastUsableUm: context.leastUsableUm }),
    rankParts: parts,
    rank: rankOf(parts),
  };
}
