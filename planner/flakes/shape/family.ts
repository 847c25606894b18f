import type { EdgeFamily } from './types.ts';

/** What the family is found from. */
interface Direction {
  readonly angleDeg: number;
  readonly angleErrorDeg: number;
  readonly lengthUm: number;
}

/** Crystal edges of a hexagonal lattice run along zigzag or armchair directions, which alternate every 30 degrees. */
const PERIOD_DEG = 30;
/** Edges within this of each other, or within this many standard errors, belong together. */
const WINDOW_DEG = 1.5;
const WINDOW_ERRORS = 2;
/** No edge counts for more than one that is this well known, degrees: small steps along real edges are not in their standard error. */
const LEAST_ERROR_DEG = 0.3;
/** A direction that is not known better than this says nothing of a family. */
const VAGUE_DEG = 4;
/** Agreement that accident explains this easily is no family. */
const ACCIDENT = 0.5;

/** The family, and which of the given edges belong to it. */
export interface FamilyFound {
  readonly family: EdgeFamily;
  readonly members: ReadonlySet<number>;
}

/**
 * The best family of directions modulo 30 degrees. Parallel edges count as one direction: that two sides of a strip are parallel does
 * not say that they follow the lattice. Each direction is tried as the family's, and the one that gathers most length is taken; its
 * angle is the weighted circular mean: angles times 12 as unit vectors with weights 1/error^2 (Fisher, Statistical Analysis of Circular
 * Data (1993), section 2.3; from memory). `chance` is that of as many directions out of all falling into the same window by accident,
 * from the binomial distribution, any of them being allowed to stand in its middle (at most 1).
 * @returns undefined when fewer than two different directions agree, or no more than would by accident
 */
export function familyOf(edges: readonly Direction[]): FamilyFound | undefined {
  const usable = edges.map((edge, i) => ({ ...edge, index: i })).filter((edge) => edge.angleErrorDeg <= VAGUE_DEG);
  const directions = parallels(usable);
  let best: { readonly weight: number; readonly near: readonly (readonly Numbered[])[] } | undefined;
  for (const [middle] of directions) {
    if (!middle) continue;
    const near = directions.filter(([d]) => d && apart(d.angleDeg, middle.angleDeg, PERIOD_DEG) <= windowOf(d, middle));
    const weight = near.flat().reduce((sum, e) => sum + e.lengthUm, 0);
    if (near.length >= 2 && (!best || weight > best.weight)) best = { weight, near };
  }
  if (!best) return undefined;
  const members = best.near.flat();
  const total = usable.reduce((sum, e) => sum + e.lengthUm, 0);
  const mean = circularMean(members);
  const window = Math.max(WINDOW_DEG, ...members.map((m) => WINDOW_ERRORS * m.angleErrorDeg));
  const chance = chanceOf(directions.length, best.near.length, (2 * window) / PERIOD_DEG);
  if (chance > ACCIDENT) return undefined;
  return { family: { ...mean, directions: directions.length, members: best.near.length, lengthShare: best.weight / total, chance }, members: new Set(members.map((m) => m.index)) };
}

interface Numbered extends Direction {
  readonly index: number;
}

/** Edges sorted into groups of one direction, the longest of each first. */
function parallels(edges: readonly Numbered[]): readonly (readonly Numbered[])[] {
  const groups: Numbered[][] = [];
  for (const edge of edges) {
    const group = groups.find(([first]) => first && apart(first.angleDeg, edge.angleDeg, 180) <= 2 * windowOf(first, edge));
    if (group) group.push(edge);
    else groups.push([edge]);
  }
  return groups;
}

function windowOf(a: Direction, b: Direction): number {
  return Math.max(WINDOW_DEG, WINDOW_ERRORS * Math.hypot(a.angleErrorDeg, b.angleErrorDeg));
}

/** Distance of two angles on a circle of the given period, degrees. */
function apart(a: number, b: number, period: number): number {
  const d = Math.abs(a - b) % period;
  return Math.min(d, period - d);
}

/** Weighted circular mean with its standard error: from the weights, or from the spread where that is larger. */
function circularMean(edges: readonly Direction[]): { readonly angleDeg: number; readonly angleErrorDeg: number } {
  const turns = 360 / PERIOD_DEG;
  let [c, s, sum, squares] = [0, 0, 0, 0];
  const weights = edges.map((e) => 1 / Math.max(LEAST_ERROR_DEG, e.angleErrorDeg) ** 2);
  edges.forEach((e, i) => {
    const phase = (turns * e.angleDeg * Math.PI) / 180;
    c += (weights[i] as number) * Math.cos(phase);
    s += (weights[i] as number) * Math.sin(phase);
    sum += weights[i] as number;
  });
  const degrees = (Math.atan2(s, c) * 180) / Math.PI / turns;
  const angleDeg = degrees < 0 ? (degrees + PERIOD_DEG) % PERIOD_DEG : degrees;
  edges.forEach((e, i) => (squares += (weights[i] as number) * apart(e.angleDeg, angleDeg, PERIOD_DEG) ** 2));
  const excess = edges.length > 1 ? Math.max(1, squares / (edges.length - 1)) : 1;
  return { angleDeg, angleErrorDeg: Math.sqrt(excess / sum) };
}

/** At most 1: number of directions times the probability that at least `members - 1` of the others lie in its window. */
function chanceOf(directions: number, members: number, window: number): number {
  const p = window;
  if (p >= 1) return 1;
  const others = directions - 1;
  let tail = 0;
  let term = (1 - p) ** others;
  for (let k = 0; k <= others; k++) {
    if (k >= members - 1) tail += term;
    term *= ((others - k) * p) / ((k + 1) * (1 - p));
  }
  return Math.min(1, directions * tail);
}
