import type { InstrumentConfig } from '../../daemon/config/instrument.ts';
import { cameraToStageFor } from '../../daemon/config/resolve.ts';
import type { OpenInstrument } from '../../daemon/instrument/open.ts';
import { patienceFor } from '../../daemon/instrument/patienceFor.ts';
import type { Clock } from '../../drivers/interfaces/index.ts';
import { pixelSizeUm } from '../../planner/plan/objective.ts';
import { guardInstrument } from '../../drivers/safety/gate.ts';
import { createSimulatedMicroscope, paceBy, VirtualClock, type Faults, type SimulatedMicroscopeOptions } from '../../simulators/index.ts';
import { logMoves, type Command } from './moveLog.ts';
import { trayNamed } from '../simulators/smallMicroscope.ts';

/** An opened instrument whose faults can be switched on and whose commands are written down below the gate. */
export interface Rig extends OpenInstrument {
  readonly faults: Faults;
  readonly commands: readonly Command[];
}

/** Ties nothing to its time, as a real instrument's clock: only the bounds of queues then hold the stage back. */
class UntiedClock extends VirtualClock {
  override track<T>(operation: Promise<T>): Promise<T> {
    return operation;
  }
}

export interface RigOptions {
  readonly startMs: number;
  /** The time that people wait by. */
  readonly realClock: Clock;
  /** Workers are not tied to the instrument's clock. */
  readonly untied?: boolean;
  /** What is otherwise at this microscope than its instrument file says: an older lamp, a sample that was pushed. */
  readonly change?: Partial<SimulatedMicroscopeOptions>;
}

/**
 * The simulated microscope of a tiny night, as `openInstrument` opens it, with its faults within reach and a log between the gate and
 * the devices. Frames are rendered in this thread.
 */
export function openRig(config: InstrumentConfig, { startMs, realClock, untied = false, change }: RigOptions): Rig {
  const { limits, stage, focus, camera, lamp } = config;
  const microscope = createSimulatedMicroscope({
    seed: config.simulator?.seed ?? 0,
    tray: trayNamed(config.simulator?.tray ?? 'tiny'),
    camera,
    objectives: objectivesOf(config),
    lamp: lamp.kind,
    stage: {
      maxSpeedUmPerS: stage.maxSpeedUmPerS,
      accelerationUmPerS2: stage.accelerationUmPerS2,
      settleMs: stage.settleMs,
      travel: { xMinUm: limits.xMinUm, xMaxUm: limits.xMaxUm, yMinUm: limits.yMinUm, yMaxUm: limits.yMaxUm },
    },
    focus: { zMinUm: limits.zMinUm, zMaxUm: limits.zMaxUm, startAtUm: limits.zMaxUm, speedUmPerS: focus.speedUmPerS },
    startMs,
    ...(untied ? { clock: new UntiedClock({ startMs }) } : {}),
    ...change,
  });
  const log = logMoves(microscope.instrument);
  const instrument = guardInstrument(log.instrument, limits, patienceFor(config));
  const realPace = paceBy(realClock, 1);
  return {
    instrument,
    faults: microscope.faults,
    commands: log.commands,
    counters: () => ({}),
    setPace: (pace) => microscope.virtualClock?.setPace(pace === 'real' ? realPace : undefined),
    close: async () => {
      await instrument.camera.close();
      microscope.virtualClock?.close();
    },
  };
}

/** The objectives in the order of their places on the turret, the first at 0, without a gap. */
function objectivesOf(config: InstrumentConfig) {
  return Object.values(config.objectives)
    .sort((a, b) => a.turretPosition - b.turretPosition)
    .map(({ turretPosition: _, ...objective }) => ({ ...objective, cameraToStageUm: cameraToStageFor(config, pixelSizeUm(config.camera.pixelPitchUm, objective.magnification)) }));
}
