import { afterEach, describe, expect, it } from 'vitest';
import { sentenceFor } from '../../../daemon/errors/index.ts';
import { recalibrateHere, type RecalibrationRequest } from '../../../daemon/run/recalibration.ts';
import { RecalibrationThread } from '../../../daemon/run/recalibrationThread.ts';
import type { Flake } from '../../../planner/flakes/types.ts';

/** Protects: a chip read again on another thread reads as it would here, and a thread that ends is named and replaced. */

const threads: RecalibrationThread[] = [];
afterEach(async () => {
  for (const thread of threads.splice(0)) await thread.close();
});

function begin(): RecalibrationThread {
  const thread = new RecalibrationThread();
  threads.push(thread);
  return thread;
}

/** A flake of one square terrace, with an invented contrast in each channel. */
function flake(id: string, contrast: readonly number[]): Flake {
  const outlineUm = [{ xUm: 0, yUm: 0 }, { xUm: 12, yUm: 0 }, { xUm: 12, yUm: 12 }, { xUm: 0, yUm: 12 }];
  const call = { layers: null, probability: 1, probabilities: [], misfit: 0 };
  const terrace = { outlineUm, areaUm2: 144, contrast, contrastError: [0.003, 0.003, 0.003], edgeWidthRatio: 1, unevenness: 1, inscribedUm: 12, inscribedCentreUm: { xUm: 6, yUm: 6 }, saturatedShare: 0, call };
  return { id, chip: 'A', bestTile: 0, tiles: [0], centreUm: { xUm: 6, yUm: 6 }, terraces: [terrace], verdict: 'thick', layers: null, usableUm: 0, areaUm2: 144, rank: 0 };
}

const request: RecalibrationRequest = {
  flakes: [flake('A-1', [0.09, 0.08, 0]), flake('A-2', [0.17, 0.14, 0])],
  context: { chip: 'A', material: 'graphene', oxideNm: 290, numericalAperture: 0.3, lamp: 'halogen', whiteBalance: 'unknown', layersFrom: 1, layersTo: 4, leastUsableUm: 3, labelled: [{ contrast: [0.09, 0.08, 0], contrastError: [0.003, 0.003, 0.003], layers: 1, source: 'raman' }] },
  channels: 3,
};

const codeOf = (work: Promise<unknown>): Promise<string> => work.then(() => 'nothing', (error: unknown) => sentenceFor(error).code);

describe('a chip read again', () => {
  it('reads the same on a thread of its own as here, each time', async () => {
    const { recalibrate } = begin();
    const here = await recalibrateHere(request);
    expect(here.changed.length).toBe(2);
    expect(await recalibrate(request)).toEqual(here);
    expect(await recalibrate(request)).toEqual(here);
  });

  it('is refused by name when the thread ends under it, and the next one is read by a new thread', async () => {
    const thread = begin();
    const cut = codeOf(thread.recalibrate(request));
    expect(await codeOf(thread.recalibrate(request))).toBe('internal');
    await thread.close();
    expect(await cut).toBe('workerLost');
    expect((await thread.recalibrate(request)).changed.length).toBe(2);
  });
});
