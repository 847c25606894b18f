import type { BookContext } from '../../planner/flakes/context.ts';
import { recalibrateWith, recalibrationRequest } from '../../planner/flakes/recalibrate.ts';
import type { Recalibrated } from '../../planner/flakes/recalibrate.ts';
import type { LadderRequest } from '../../planner/flakes/samples.ts';
import type { Flake } from '../../planner/flakes/types.ts';
import { fitLadder } from '../../planner/layers/ladder.ts';
import type { Ladder } from '../../planner/layers/types.ts';

/** Fits a ladder; takes up to some seconds of work, which belong on another thread wherever there is one. */
export type FitLadder = (request: LadderRequest) => Promise<Ladder>;

/** In this thread, which stands still meanwhile. */
export const fitHere: FitLadder = ({ context, samples, labelled }) => Promise.resolve(fitLadder(context, samples, labelled));

/** Fits a chip's ladder anew with the labels of the context, and reads all its flakes again on it. */
export async function recalibrated(flakes: readonly Flake[], context: BookContext, channels: number, fit: FitLadder): Promise<Recalibrated> {
  return recalibrateWith(flakes, context, await fit(recalibrationRequest(flakes, context, channels)));
}
