import { straightRuns } from '../../geometry/straightRuns.ts';
import type { StraightRun } from '../../geometry/straightRuns.ts';
import type { MeasuredTerrace } from '../types.ts';
import { familyOf } from './family.ts';
import type { EdgeFamily, StraightEdge } from './types.ts';

/** Corners may lie this far off a straight edge, in resolution elements. */
const TOLERANCE = 0.25;
/** Shorter pieces are no edges: of so few resolution elements any outline is straight. */
const LEAST = 3;
/** Blur rounds corners over about half an element. */
const TRIM = 0.5;
/**
 * Places along an edge that are that far apart in resolution elements have errors of their own; nearer ones share them, through the
 * blur and because the outline is drawn in means of three by three pixels (of up to 0.6 of an element each).
 */
const INDEPENDENT = 2;
const STEP = 0.25;
/**
 * An outline is not known better than this, in resolution elements: thinned to a fifth of a pixel (0.07 when spread evenly, for pixels
 * of 0.6 of an element), and drawn from samples that are held on their own side of it, which is about as much again.
 */
const LEAST_STRAY = 0.1;
/** The longest ones are kept. */
const MOST_EDGES = 32;

/** The straight edges of a flake and the family of directions that they form, where they do. */
export interface FlakeEdges {
  readonly edges: readonly StraightEdge[];
  readonly family?: EdgeFamily;
}

/**
 * Straight edges of all terraces, longest first, with the standard error of their directions: that of a slope fitted to n independent
 * places evenly over the length L, each off by s, is s sqrt(12/n)/L, in radians (textbook least squares). n counts pieces of
 * two resolution elements.
 * @param resolutionUm size of a resolution element
 */
export function edgesOfFlake(terraces: readonly MeasuredTerrace[], resolutionUm: number): FlakeEdges {
  const options = { toleranceUm: TOLERANCE * resolutionUm, leastUm: LEAST * resolutionUm, trimUm: TRIM * resolutionUm, stepUm: STEP * resolutionUm };
  const found = terraces.flatMap((terrace, i) => straightRuns(terrace.outlineUm, options).map((run) => asEdge(run, i, resolutionUm)));
  const longest = found.sort((a, b) => b.lengthUm - a.lengthUm || a.angleDeg - b.angleDeg).slice(0, MOST_EDGES);
  const result = familyOf(longest);
  const edges = longest.map((edge, i): StraightEdge => ({ ...edge, inFamily: result?.members.has(i) ?? false }));
  return { edges, ...(result ? { family: result.family } : {}) };
}

function asEdge(run: StraightRun<'stage'>, terrace: number, resolutionUm: number): Omit<StraightEdge, 'inFamily'> {
  const strayUm = Math.max(run.strayUm, LEAST_STRAY * resolutionUm);
  const places = Math.max(2, run.lengthUm / (INDEPENDENT * resolutionUm));
  const errorRad = (strayUm * Math.sqrt(12 / places)) / run.lengthUm;
  return { terrace, fromUm: run.fromUm, toUm: run.toUm, lengthUm: run.lengthUm, angleDeg: run.angleDeg, angleErrorDeg: (errorRad * 180) / Math.PI };
}
