import { containsPoint, distanceToEdgeUm } from '../../geometry/polygon.ts';
import type { StagePoint } from '../../units/index.ts';
import type { Terrace } from '../types.ts';
import type { FlakeNote, StraightEdge } from './types.ts';

/** Fewer resolution elements across than this, and blur from both sides reaches the middle (common practice, no source). */
const ELEMENTS_ACROSS = 4;
/** Local and whole level of bare oxide disagree when they differ by this contrast: a tenth of what one layer makes. */
const HALO = 0.01;
/** Length over width from which a terrace is a strip. */
const STRIP = 2.5;
/** Sides of a strip are at least this share of its length, and this parallel. */
const SIDE_SHARE = 0.5;
const PARALLEL_DEG = 6;
/** Two outlines that share an edge are drawn this near each other, in resolution elements. */
const SHARED = 1.5;

/** What sizes are held against: the optics' resolution element, and the smallest circle that is of use to the person. */
export interface NoteLimits {
  readonly resolutionUm: number;
  readonly leastUsableUm: number;
}

/**
 * What a person should know before trusting the flake. A strip of twice its base's layers along the base's rim whose two long sides
 * are parallel is what a fold of a straight edge looks like: the fold line is its outer side, and the edge that was turned over, mirrored,
 * its inner one. Contrast cannot tell it from grown layers.
 * @param usable index of the terrace that counts
 */
export function notesOf(terraces: readonly Terrace[], usable: number, edges: readonly StraightEdge[], limits: NoteLimits): readonly FlakeNote[] {
  const { resolutionUm, leastUsableUm } = limits;
  const notes: FlakeNote[] = [];
  const acrossUm = terraces[usable]?.inscribedUm ?? 0;
  const neededUm = ELEMENTS_ACROSS * resolutionUm;
  if (acrossUm < neededUm) notes.push({ kind: 'confirmLarger', terrace: usable, acrossUm, neededUm });
  if (acrossUm < leastUsableUm) notes.push({ kind: 'smallerThanWanted', terrace: usable, acrossUm, wantedUm: leastUsableUm });
  const halo = terraces[usable]?.halo ?? 0;
  if (Math.abs(halo) >= HALO) notes.push({ kind: 'halo', terrace: usable, contrast: halo });
  terraces.forEach((strip, i) => {
    const base = terraces.findIndex((t, j) => j !== i && isFoldOf(strip, edges.filter((e) => e.terrace === i), t, resolutionUm));
    if (base >= 0) notes.push({ kind: 'twoLayersOrFold', terrace: i, base, layers: strip.call.layers ?? 0, widthUm: strip.inscribedUm });
  });
  return notes;
}

function isFoldOf(strip: Terrace, sides: readonly StraightEdge[], base: Terrace, resolutionUm: number): boolean {
  const { layers } = strip.call;
  if (layers === null || base.call.layers === null || layers !== 2 * base.call.layers) return false;
  const lengthUm = strip.areaUm2 / Math.max(strip.inscribedUm, 1e-9);
  if (lengthUm < STRIP * strip.inscribedUm) return false;
  const long = sides.filter((s) => s.lengthUm >= SIDE_SHARE * lengthUm);
  return long.some((inner) => long.some((outer) => inner !== outer && parallel(inner, outer) && foldsOnto(inner, outer, strip, base, resolutionUm)));
}

function parallel(a: StraightEdge, b: StraightEdge): boolean {
  const turn = Math.abs(a.angleDeg - b.angleDeg) % 180;
  return Math.min(turn, 180 - turn) <= PARALLEL_DEG;
}

/** The inner side is shared with the base, and beyond the outer side there is nothing of it. */
function foldsOnto(inner: StraightEdge, outer: StraightEdge, strip: Terrace, base: Terrace, resolutionUm: number): boolean {
  const [near, far] = [middleOf(inner), middleOf(outer)];
  const reach = SHARED * resolutionUm;
  if (distanceToEdgeUm(base.outlineUm, near) > reach) return false;
  return !containsPoint(base.outlineUm, far) && distanceToEdgeUm(base.outlineUm, far) > Math.min(reach, strip.inscribedUm / 2);
}

function middleOf(edge: StraightEdge): StagePoint {
  return { xUm: (edge.fromUm.xUm + edge.toUm.xUm) / 2, yUm: (edge.fromUm.yUm + edge.toUm.yUm) / 2 };
}
