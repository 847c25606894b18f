import type { Ladder } from '../layers/types.ts';
import type { StageBox, StagePoint } from '../units/index.ts';
import type { BookContext } from './context.ts';
import { neighbourOf } from './neighbours.ts';
import { boxOf } from './raster.ts';
import { sameReading } from './sameReading.ts';
import { fitRequest, requestFor } from './samples.ts';
import type { LadderRequest } from './samples.ts';
import { surveyed } from './shape/survey.ts';
import type { Flake } from './types.ts';
import { outlineAround } from './unite.ts';
import { frameReject, readFlake } from './verdict.ts';

export interface Recalibrated {
  readonly ladder: Ladder;
  /** Flakes that read otherwise than before, whole, with what their shape and neighbourhood say. */
  readonly changed: readonly Flake[];
}

/**
 * Fits the ladder anew and reads all flakes of a chip again from what is recorded of them: for when a person gives or takes back a layer
 * number after the chip is done and its book is gone. Flakes that the frame alone rejected keep their reason. Pure.
 * @param flakes all of the chip, rejected ones too
 * @param context with the labels that hold now
 * @param channels of the camera
 */
export function recalibrate(flakes: readonly Flake[], context: BookContext, channels: number): Recalibrated {
  return recalibrateWith(flakes, context, fitRequest(recalibrationRequest(flakes, context, channels)));
}

/** The first half of {@link recalibrate}, for a fit in another thread. */
export function recalibrationRequest(flakes: readonly Flake[], context: BookContext, channels: number): LadderRequest {
  const judged = flakes.filter((flake) => frameReject(flake, context) === undefined);
  return requestFor(context, channels, judged.map((flake) => flake.terraces.filter((t) => t.contrast.length === channels)));
}

/** The second half of {@link recalibrate}. */
export function recalibrateWith(flakes: readonly Flake[], context: BookContext, ladder: Ladder): Recalibrated {
  const read = flakes.map((flake) => readAgain(flake, ladder, context));
  const neighbours = read.flatMap((flake) => neighbourOf(flake, flake.terraces.map((t) => t.outlineUm), boxOfTerraces(flake), context.layersTo) ?? []);
  const whole = read.map((flake) => (flake.verdict === 'flagged' ? surveyed(flake, outlineAround(flake.terraces), neighbours, context) : flake));
  return { ladder, changed: whole.filter((flake, i) => !sameReading(flakes[i], flake)) };
}

function readAgain(flake: Flake, ladder: Ladder, context: BookContext): Flake {
  const { id, chip, bestTile, tiles, centreUm, areaUm2, terraces } = flake;
  const reject = frameReject(flake, context);
  return { id, chip, bestTile, tiles, centreUm, areaUm2, ...readFlake({ terraces, ...(reject ? { reject } : {}) }, ladder, context) };
}

function boxOfTerraces(flake: Flake): StageBox {
  return boxOf(flake.terraces.flatMap((t): readonly StagePoint[] => t.outlineUm));
}
