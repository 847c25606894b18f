import { centroid } from '../geometry/polygon.ts';
import { boxOf } from './raster.ts';
import type { Detection, MeasuredTerrace } from './types.ts';

/** A stage repeats to 1 to 3 um: what lies farther apart is not the same flake. */
const REACH_UM = 10;
/** One flake alone does not say so over more than this. */
const REACH_ALONE_UM = 5;
/** The same flake's area in two frames differs by less than this share. */
const AREA_SHARE = 0.2;
/** Its sides differ by less than this, and a few hundredths. */
const SIDE_UM = 1.5;
/** Matches farther than this from the rest are false. */
const AGREE_UM = 1.2;
/** How well a stage repeats, um, one standard deviation: what holds the whole chip to the stage's own frame. */
const STAGE_UM = 1.5;
/** How well one matched flake tells where two tiles lie to each other, um. */
const MATCH_UM = 0.25;

/** How far a tile lies from where the stage said. */
export interface TileOffset {
  readonly dxUm: number;
  readonly dyUm: number;
}

/** What two overlapping tiles say of each other: to show the same flakes at the same place, tile must move by this much more than other. */
export interface TileLink {
  readonly tile: number;
  readonly other: number;
  readonly dxUm: number;
  readonly dyUm: number;
  /** Flakes that say so. */
  readonly matches: number;
}

/** What an earlier tile shows, already registered. */
export interface Seen {
  readonly tile: number;
  readonly detection: Detection;
}

interface Match {
  readonly other: number;
  readonly dxUm: number;
  readonly dyUm: number;
  readonly weight: number;
}

/**
 * Registers a new tile on the tiles before it by the flakes that they have in common: whole in both frames, of the same size and near
 * each other. Of matches that disagree the largest party counts.
 * @param detections of the new tile, where the stage says they are
 * @param before what earlier tiles show near it
 * @param offsets of the earlier tiles
 */
export function linkTile(tile: number, detections: readonly Detection[], before: readonly Seen[], offsets: ReadonlyMap<number, TileOffset>): readonly TileLink[] {
  const matches = detections.filter(isLandmark).flatMap((d) => before.flatMap((view) => matchWith(d, view) ?? []));
  let best: readonly Match[] = [];
  let bestWeight = 0;
  for (const one of matches) {
    const agreeing = matches.filter((m) => Math.hypot(m.dxUm - one.dxUm, m.dyUm - one.dyUm) < AGREE_UM);
    const weight = agreeing.reduce((sum, m) => sum + m.weight, 0);
    if (weight > bestWeight) [best, bestWeight] = [agreeing, weight];
  }
  const [first] = best;
  if (best.length === 1 && first && Math.hypot(first.dxUm, first.dyUm) > REACH_ALONE_UM) return [];
  return [...new Set(best.map((m) => m.other))].map((other) => {
    const of = best.filter((m) => m.other === other);
    const total = of.reduce((sum, m) => sum + m.weight, 0);
    const mean = (value: (m: Match) => number): number => of.reduce((sum, m) => sum + m.weight * value(m), 0) / total;
    const offset = offsets.get(other) ?? { dxUm: 0, dyUm: 0 };
    return { tile, other, dxUm: mean((m) => m.dxUm) - offset.dxUm, dyUm: mean((m) => m.dyUm) - offset.dyUm, matches: of.length };
  });
}

/** Where a new tile lies by its links, the others being held. */
export function offsetFrom(links: readonly TileLink[], offsets: ReadonlyMap<number, TileOffset>): TileOffset {
  let [dxUm, dyUm, weight] = [0, 0, 0];
  for (const link of links) {
    const other = offsets.get(link.other) ?? { dxUm: 0, dyUm: 0 };
    dxUm += link.matches * (other.dxUm + link.dxUm);
    dyUm += link.matches * (other.dyUm + link.dyUm);
    weight += link.matches;
  }
  return weight === 0 ? { dxUm: 0, dyUm: 0 } : { dxUm: dxUm / weight, dyUm: dyUm / weight };
}

/**
 * Settles all tiles at once: least squares of the links, with the stage's own word for each tile as a weak observation, so that the
 * chip as a whole stays where the stage saw it. Solved by conjugate gradients (Hestenes and Stiefel 1952, from memory).
 */
export function settleOffsets(tiles: readonly number[], links: readonly TileLink[]): ReadonlyMap<number, TileOffset> {
  const place = new Map(tiles.map((tile, i) => [tile, i]));
  const springs = links.flatMap((link): Spring[] => {
    const [a, b] = [place.get(link.tile), place.get(link.other)];
    return a === undefined || b === undefined ? [] : [{ a, b, weight: link.matches / MATCH_UM ** 2, link }];
  });
  const x = settleAxis(tiles.length, springs, (link) => link.dxUm);
  const y = settleAxis(tiles.length, springs, (link) => link.dyUm);
  return new Map(tiles.map((tile, i) => [tile, { dxUm: x[i] as number, dyUm: y[i] as number }]));
}

interface Spring {
  readonly a: number;
  readonly b: number;
  readonly weight: number;
  readonly link: TileLink;
}

function settleAxis(count: number, springs: readonly Spring[], step: (link: TileLink) => number): Float64Array {
  const x = new Float64Array(count);
  const residual = new Float64Array(count);
  for (const { a, b, weight, link } of springs) {
    residual[a] = (residual[a] as number) + weight * step(link);
    residual[b] = (residual[b] as number) - weight * step(link);
  }
  const direction = Float64Array.from(residual);
  let energy = dot(residual, residual);
  for (let round = 0; round < 4 * count + 20 && energy > 1e-14; round++) {
    const pulled = pull(direction, springs);
    const along = energy / dot(direction, pulled);
    for (let i = 0; i < count; i++) {
      x[i] = (x[i] as number) + along * (direction[i] as number);
      residual[i] = (residual[i] as number) - along * (pulled[i] as number);
    }
    const left = dot(residual, residual);
    for (let i = 0; i < count; i++) direction[i] = (residual[i] as number) + (left / energy) * (direction[i] as number);
    energy = left;
  }
  return x;
}

/** The normal equations' matrix times a vector: the stage's hold on each tile, and the links between them. */
function pull(x: Float64Array, springs: readonly Spring[]): Float64Array {
  const out = x.map((v) => v / STAGE_UM ** 2);
  for (const { a, b, weight } of springs) {
    const force = weight * ((x[a] as number) - (x[b] as number));
    out[a] = (out[a] as number) + force;
    out[b] = (out[b] as number) - force;
  }
  return out;
}

function dot(a: Float64Array, b: Float64Array): number {
  let sum = 0;
  for (let i = 0; i < a.length; i++) sum += (a[i] as number) * (b[i] as number);
  return sum;
}

function isLandmark(detection: Detection): boolean {
  return !detection.touchesFrameEdge && (detection.reject === undefined || detection.reject === 'dark') && detection.outlineUm.length >= 3;
}

function matchWith(detection: Detection, view: Seen): Match | undefined {
  if (!isLandmark(view.detection) || !looksLike(detection, view.detection)) return undefined;
  const here = centroid(detection.outlineUm);
  const there = centroid(view.detection.outlineUm);
  const [dxUm, dyUm] = [there.xUm - here.xUm, there.yUm - here.yUm];
  return Math.hypot(dxUm, dyUm) > REACH_UM ? undefined : { other: view.tile, dxUm, dyUm, weight: Math.sqrt(detection.areaUm2) };
}

/** Of one size, one shape and one colour: within what two frames of one flake differ by. */
function looksLike(a: Detection, b: Detection): boolean {
  const ratio = a.areaUm2 / b.areaUm2;
  if (ratio < 1 - AREA_SHARE || ratio > 1 / (1 - AREA_SHARE)) return false;
  const [p, q] = [boxOf(a.outlineUm), boxOf(b.outlineUm)];
  const sameSide = (one: number, other: number): boolean => Math.abs(one - other) < SIDE_UM + 0.08 * Math.max(one, other);
  if (!sameSide(p.xMaxUm - p.xMinUm, q.xMaxUm - q.xMinUm) || !sameSide(p.yMaxUm - p.yMinUm, q.yMaxUm - q.yMinUm)) return false;
  const [largestA, largestB] = [largest(a), largest(b)];
  return largestA?.contrast.every((c, i) => Math.abs(c - (largestB?.contrast[i] ?? c)) < 0.02 + 0.05 * Math.abs(c)) ?? false;
}

function largest(detection: Detection): MeasuredTerrace | undefined {
  return detection.terraces.reduce<MeasuredTerrace | undefined>((best, t) => (best && best.areaUm2 >= t.areaUm2 ? best : t), undefined);
}
