import type { Cleanliness, Clearance, EdgeFamily, FlakeNote, RankParts } from '../../planner/flakes/shape/types.ts';
import type { Flake } from '../../planner/flakes/types.ts';
import type { StagePoint } from '../../planner/units/index.ts';

type Pair = readonly [number, number];

export interface BarReport {
  readonly lengthUm: number;
  readonly widthUm: number;
  readonly angleDeg: number;
  readonly centreUm: Pair;
}

export interface EdgeReport {
  /** Index of the terrace in the flake's list. */
  readonly terrace: number;
  readonly fromUm: Pair;
  readonly toUm: Pair;
  readonly lengthUm: number;
  readonly angleDeg: number;
  readonly angleErrorDeg: number;
  readonly inFamily: boolean;
}

/** What a flagged flake's shape and neighbourhood say, as numbers of sensible length. */
export interface ShapeReport {
  readonly bar?: BarReport;
  readonly edges?: readonly EdgeReport[];
  readonly edgeFamily?: EdgeFamily;
  readonly clearance?: Clearance;
  readonly cleanliness?: Cleanliness;
  readonly notes?: readonly FlakeNote[];
  readonly rankParts?: RankParts;
}

export function shapeReport(flake: Flake): ShapeReport {
  const { bar, edges, edgeFamily, clearance, cleanliness, notes, rankParts } = flake;
  return {
    ...(bar ? { bar: { ...shortened(bar), centreUm: pair(bar.centreUm) } } : {}),
    ...(edges ? { edges: edges.map((edge) => ({ ...shortened(edge), fromUm: pair(edge.fromUm), toUm: pair(edge.toUm) })) } : {}),
    ...(edgeFamily ? { edgeFamily: shortened(edgeFamily) } : {}),
    ...(clearance ? { clearance: shortened(clearance) } : {}),
    ...(cleanliness ? { cleanliness: shortened(cleanliness) } : {}),
    ...(notes ? { notes: notes.map(shortened) } : {}),
    ...(rankParts ? { rankParts: shortened(rankParts) } : {}),
  };
}

/** The same with its own numbers rounded to a thousandth. */
function shortened<T extends object>(value: T): T {
  return Object.fromEntries(Object.entries(value).map(([key, each]: [string, unknown]) => [key, typeof each === 'number' ? rounded(each) : each])) as T;
}

function pair(p: StagePoint): Pair {
  return [rounded(p.xUm), rounded(p.yUm)];
}

function rounded(value: number): number {
  return Math.round(value * 1000) / 1000;
}
