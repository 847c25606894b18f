import { checkLinearity } from '../linearity/check.ts';
import type { LinearityResult } from '../linearity/types.ts';
import { raise } from '../run/approach.ts';
import { goTo, setUp, type Bench } from './bench.ts';

/** Checks the camera at the bench's place and with its optical path. The objective stays up: light is needed, and no sharp picture. */
export async function calibrateLinearity(bench: Bench): Promise<LinearityResult> {
  const { instrument, config, path, signal } = bench;
  bench.tell('Going to the place.');
  await raise(instrument, config.limits.safeHeightUm, signal);
  await setUp(bench, path);
  await goTo(bench, bench.atUm);
  bench.tell('Taking frames at two exposures, with and without light.');
  return checkLinearity(instrument.camera, instrument.lamp, { ...path, transfer: config.camera.transfer }, instrument.clock, signal);
}
