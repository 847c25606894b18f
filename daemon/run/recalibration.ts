import type { BookContext } from '../../planner/flakes/context.ts';
import { recalibrate } from '../../planner/flakes/recalibrate.ts';
import type { Recalibrated } from '../../planner/flakes/recalibrate.ts';
import type { Flake } from '../../planner/flakes/types.ts';

/** What a chip is read again from: all its flakes, and what they are read with, the labels that hold now included. */
export interface RecalibrationRequest {
  readonly flakes: readonly Flake[];
  readonly context: BookContext;
  readonly channels: number;
}

/** What comes back from another thread. */
export type RecalibrationReply = { readonly ok: true; readonly result: Recalibrated } | { readonly ok: false; readonly message: string };

/** Fits a chip's ladder anew and reads all its flakes again on it: up to some seconds of work, which belong on another thread. */
export type Recalibrate = (request: RecalibrationRequest) => Promise<Recalibrated>;

/** In this thread, which stands still meanwhile. */
export const recalibrateHere: Recalibrate = ({ flakes, context, channels }) => Promise.resolve(recalibrate(flakes, context, channels));
