import type { FlakeView, ProgressView, RunView, TileView } from '../../daemon/server/messages.ts';
import type { Terrace } from '../../planner/flakes/types.ts';

/** Small views for unit tests; every figure is made up. */

export function terrace(layers: number | null, contrast: readonly number[] = [0.1], more: Partial<Terrace> = {}): Terrace {
  const probabilities = Array.from({ length: 12 }, (_, n) => (n === (layers ?? 11) ? 1 : 0));
  const outlineUm = [{ xUm: 0, yUm: 0 }, { xUm: 10, yUm: 0 }, { xUm: 10, yUm: 5 }];
  return { outlineUm, areaUm2: 25, contrast, contrastError: contrast.map(() => 0.01), edgeWidthRatio: 1, unevenness: 1, inscribedUm: 3, inscribedCentreUm: { xUm: 8, yUm: 2 }, saturatedShare: 0, call: { layers, probability: 0.95, probabilities, misfit: 1 }, ...more };
}

export function flakeView(id: string, layers: number | null, rank: number, verdict: 'flagged' | 'thick' | 'rejected' = layers === null ? 'thick' : 'flagged'): FlakeView {
  return { flake: { id, chip: 'K-07', bestTile: 3, tiles: [3], centreUm: { xUm: 5, yUm: 2 }, terraces: [terrace(layers)], verdict, layers, usableUm: 3, areaUm2: 25, rank }, chipXUm: 1, chipYUm: 2 };
}

export function tileView(index: number, state: TileView['state'] = 'planned', chip = 'K-07'): TileView {
  return { index, chip, centreUm: { xUm: 100 * index, yUm: 0 }, state };
}

export function runView(runId = 'r1', more: Partial<RunView> = {}): RunView {
  const chip = { name: 'K-07', material: 'graphene', oxideNm: 290, outlineUm: [], originUm: { xUm: 0, yUm: 0 }, angleDeg: 0, tiles: 4, tilesDone: 0 };
  return { runId, title: 't', operator: 'm.o.', instrument: 'i', opticalPath: 'p', simulated: true, fieldWidthUm: 100, fieldHeightUm: 80, frameWidthPx: 200, frameHeightPx: 160, cameraToStageUm: [0.5, 0, 0, -0.5], chips: [chip], ladders: {}, calibrations: {}, light: { lamp: 'halogen', numericalAperture: 0.3, filter: 'none', pixelUm: 0.5 }, ...more };
}

export function progressView(more: Partial<ProgressView> = {}): ProgressView {
  return { state: 'scanning', sentence: 's', tilesDone: 0, tilesSkipped: 0, tilesFaulty: 0, tiles: 4, flagged: 0, leftS: 60, doneAtMs: 60_000, clockMs: 0, ...more };
}
