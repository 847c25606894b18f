import type { CameraFrame, Instrument, Region } from '../../drivers/interfaces/index.ts';
import type { CalibrationRefusal } from '../../planner/frames/calibration/refusals.ts';
import type { GreyPicture } from '../../planner/frames/greyPicture.ts';
import { waveDepthOfFieldUm } from '../../planner/focus/depthOfField.ts';
import type { StagePoint } from '../../planner/units/index.ts';
import type { InstrumentConfig } from '../config/instrument.ts';
import type { OpticalPath } from '../config/resolve.ts';
import { NightjarError } from '../errors/index.ts';
import { approachFromBelow, raise } from '../run/approach.ts';
import { autofocus } from '../run/autofocus.ts';
import { changePath } from '../run/changePath.ts';
import { levelOf, levelled, type Level } from './level.ts';

/** What every calibration works with. */
export interface Bench {
  /** Behind the safety gate. */
  readonly instrument: Instrument;
  readonly config: InstrumentConfig;
  readonly path: OpticalPath;
  /** Where the chip, or the micrometer, is looked at. */
  readonly atUm: StagePoint;
  /** Searched for focus above and below where it is expected. */
  readonly focusRangeUm: number;
  readonly signal: AbortSignal;
  /** Told in passing what is being done. */
  readonly tell: (text: string) => void;
}

export type Procedure = 'camera' | 'backlash' | 'objectives' | 'scale' | 'linearity';

/** Slack is not known yet when it is measured: places are passed by this much at least. */
const leastTakeUpUm = 60;
/** Sides of the grid of places over which dust and uneven light are told from the chip. */
const levelGrid = 3;

/** Ends a calibration with its refusal. */
export function refuse(procedure: Procedure, refusal: CalibrationRefusal): never {
  throw new NightjarError('calibrationRefused', { procedure, refusal });
}

/** How far a place is passed on the way to it, so that the slack is surely taken up. */
export function takeUpFor({ config }: Bench): number {
  return Math.max(leastTakeUpUm, 2 * config.stage.backlashUm);
}

/** Lamp on, camera set, the path's objective in place: it is changed at the safe height alone. */
export function setUp({ instrument, config, signal }: Bench, path: OpticalPath): Promise<void> {
  return changePath(instrument, path, config.limits.safeHeightUm, signal);
}

/** Objective up, lamp off; each is tried whatever becomes of the other. Throws the first that failed. */
export async function leaveSafe(instrument: Instrument, safeHeightUm: number): Promise<void> {
  const outcomes = await Promise.allSettled([instrument.lamp.setIntensity(0), raise(instrument, safeHeightUm)]);
  for (const outcome of outcomes) if (outcome.status === 'rejected') throw outcome.reason;
}

/** Goes to a place from below on both axes; on a long way the objective is lifted, and lowered again on arrival. Then waits until the picture stands. */
export async function goTo(bench: Bench, targetUm: StagePoint): Promise<StagePoint> {
  const { instrument, config, signal } = bench;
  const travel = { ...config.limits, backlashUm: takeUpFor(bench) };
  const atUm = await approachFromBelow(instrument, targetUm, await instrument.focus.position(), travel, config.limits, signal);
  await instrument.clock.sleep(config.stage.settleMs, signal);
  return atUm;
}

/** The depth of field that focus is held against. */
export function depthOfFieldFor(path: OpticalPath): number {
  return waveDepthOfFieldUm(path.numericalAperture);
}

/** Where focus is sought, and in which part of the field; the whole when left out. */
export interface FocusWish {
  readonly centreUm: number;
  readonly rangeUm: number;
  readonly region?: Region;
}

/** Searches focus where the stage stands, and stays there. Returns the height. Throws `calibrationRefused` where there is none. */
export async function focusHere(bench: Bench, procedure: Procedure, path: OpticalPath, { centreUm, rangeUm, region }: FocusWish): Promise<number> {
  const { instrument, config, signal } = bench;
  const { limits, focus } = config;
  await instrument.camera.configure({ exposureMs: path.exposureMs, gainDb: path.gainDb, ...(region ? { region } : {}) });
  const request = { centreUm, rangeUm, depthOfFieldUm: depthOfFieldFor(path), takeUpUm: focus.takeUpUm, zMinUm: limits.zMinUm, zMaxUm: limits.zMaxUm };
  const focused = await autofocus(instrument, request, focus.settleMs, signal);
  await instrument.camera.configure({ exposureMs: path.exposureMs, gainDb: path.gainDb });
  return focused.ok ? focused.peak.zUm : refuse(procedure, { code: 'noFocus', objective: path.objective, centreUm, rangeUm });
}

/** Goes to the bench's place with its objective and focuses there. Returns the height. */
export async function begin(bench: Bench, procedure: Procedure): Promise<number> {
  bench.tell(`Going to the place and focusing with ${bench.path.objective}.`);
  await raise(bench.instrument, bench.config.limits.safeHeightUm, bench.signal);
  await setUp(bench, bench.path);
  await goTo(bench, bench.atUm);
  return focusHere(bench, procedure, bench.path, { centreUm: bench.config.focus.expectedUm + bench.path.parfocalUm, rangeUm: bench.focusRangeUm });
}

/** A frame where everything stands, with dust on the sensor and uneven light taken out. */
export async function look({ instrument, signal }: Bench, level?: Level): Promise<GreyPicture> {
  return levelled(await instrument.camera.snap(signal), level);
}

/** Learns what stands still on the sensor from frames at places a third of the field apart, and comes back. */
export async function learnLevel(bench: Bench): Promise<Level> {
  const { config, path, atUm, instrument, signal } = bench;
  const stepUm = (path.pixelUm * Math.min(config.camera.widthPx, config.camera.heightPx)) / levelGrid;
  const frames: CameraFrame[] = [];
  for (let row = 0; row < levelGrid; row++) {
    for (let col = 0; col < levelGrid; col++) {
      await goTo(bench, { xUm: atUm.xUm + (col - 1) * stepUm, yUm: atUm.yUm + (row - 1) * stepUm });
      frames.push(await instrument.camera.snap(signal));
    }
  }
  await goTo(bench, atUm);
  return levelOf(frames);
}
