import type { Logger } from 'pino';
import type { CameraFrame, Instrument } from '../../drivers/interfaces/index.ts';
import type { ScanPlan } from '../../planner/plan/types.ts';
import type { FramePool } from '../classify/pool.ts';
import type { InstrumentConfig } from '../config/instrument.ts';
import { opticalPathFor, type OpticalPath } from '../config/resolve.ts';
import type { RunSheet } from '../config/runSheet.ts';
import type { Records } from '../records/types.ts';
import type { WriteBytes } from '../records/writeDurably.ts';
import { Play, type TravelLimits } from './approach.ts';
import { Repeats } from './repeats.ts';

/** What a night is made of: the plan, the files behind it, the instrument, and where everything is written. */
export interface NightContext {
  readonly runId: string;
  readonly plan: ScanPlan;
  readonly sheet: RunSheet;
  readonly config: InstrumentConfig;
  readonly path: OpticalPath;
  readonly travel: TravelLimits;
  /** Behind the safety gate. */
  readonly instrument: Instrument;
  readonly records: Records;
  readonly pool: FramePool;
  readonly log: Logger;
  /** Throws `badFrame` for a frame of the night's camera that is the one before once more; never with stored frames. */
  readonly requireNew: (frame: CameraFrame) => void;
  /** Free bytes where the records are. */
  readonly freeBytes: () => Promise<number>;
  /** How bytes get into picture files, when not in the usual way: a full disk is rehearsed with it. */
  readonly writeBytes?: WriteBytes;
}

export type NightParts = Omit<NightContext, 'path' | 'travel' | 'requireNew'>;

/** Fills in what follows from the files. */
export function nightContext(parts: NightParts): NightContext {
  const { config, instrument } = parts;
  const repeats = new Repeats();
  const camera = config.camera.driver === 'frameSet' ? instrument.camera : repeats.watch(instrument.camera);
  return {
    ...parts,
    instrument: { ...instrument, camera },
    requireNew: (frame) => repeats.requireNew(frame),
    path: opticalPathFor(parts.sheet.opticalPath, config),
    travel: travelLimitsFor(config),
  };
}

/** What every way of the stage and the focus drive goes by. */
export function travelLimitsFor(config: InstrumentConfig): TravelLimits {
  return {
    backlashUm: config.stage.backlashUm,
    ...(config.stage.playUm ? { play: new Play(config.stage.playUm) } : {}),
    takeUpUm: config.focus.takeUpUm,
    maxLowTravelUm: config.limits.maxLowTravelUm,
    safeHeightUm: config.limits.safeHeightUm,
    settleMs: config.stage.settleMs,
    focusSettleMs: config.focus.settleMs,
  };
}
