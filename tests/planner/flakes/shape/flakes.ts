import type { Flake, LayerCall, Terrace } from '../../../../planner/flakes/types.ts';
import type { StagePoint } from '../../../../planner/units/index.ts';

export const at = (xUm: number, yUm: number): StagePoint => ({ xUm, yUm });

export const box = (x0: number, y0: number, x1: number, y1: number): readonly StagePoint[] => [at(x0, y0), at(x1, y0), at(x1, y1), at(x0, y1)];

/** The same, turned about the origin and moved. */
export const turn = (points: readonly StagePoint[], degrees: number, dx = 0, dy = 0): readonly StagePoint[] => {
  const [c, s] = [Math.cos((degrees * Math.PI) / 180), Math.sin((degrees * Math.PI) / 180)];
  return points.map((p) => at(c * p.xUm - s * p.yUm + dx, s * p.xUm + c * p.yUm + dy));
};

export const shoelace = (p: readonly StagePoint[]): number =>
  Math.abs(p.reduce((sum, a, i) => sum + a.xUm * (p[(i + 1) % p.length] ?? a).yUm - a.yUm * (p[(i + 1) % p.length] ?? a).xUm, 0)) / 2;

/** Corners of a regular polygon, one of them at `degrees`. */
export const regular = (corners: number, radiusUm: number, degrees = 0): readonly StagePoint[] =>
  Array.from({ length: corners }, (_, i) => ((degrees + (360 * i) / corners) * Math.PI) / 180).map((a) => at(radiusUm * Math.cos(a), radiusUm * Math.sin(a)));

function call(layers: number | null): LayerCall {
  const probabilities = Array.from({ length: 12 }, (_, i) => (i === (layers ?? 11) ? 1 : 0));
  return { layers, probability: 1, probabilities, misfit: 0.5 };
}

/** A terrace as a frame without noise would give it. */
export function terrace(outlineUm: readonly StagePoint[], layers: number | null, inscribedUm: number, areaUm2 = shoelace(outlineUm)): Terrace {
  return {
    outlineUm, areaUm2, inscribedUm, contrast: [0.1], contrastError: [0.001], edgeWidthRatio: 1, unevenness: 1, saturatedShare: 0,
    inscribedCentreUm: at(0, 0), call: call(layers),
  };
}

export function flake(terraces: readonly Terrace[], more: Partial<Flake> = {}): Flake {
  const [first] = terraces;
  return {
    id: 'a-1', chip: 'a', bestTile: 0, tiles: [0], centreUm: at(0, 0), terraces, verdict: 'flagged', layers: first?.call.layers ?? null,
    usableUm: first?.inscribedUm ?? 0, areaUm2: terraces.reduce((sum, t) => sum + t.areaUm2, 0), rank: 50, ...more,
  };
}
