import type { InstrumentConfig } from '../../daemon/config/instrument.ts';
import { cameraToStageFor, safetyLimitsFor } from '../../daemon/config/resolve.ts';
import type { OpenInstrument } from '../../daemon/instrument/open.ts';
import { patienceFor } from '../../daemon/instrument/patienceFor.ts';
import { guardInstrument } from '../../drivers/safety/gate.ts';
import type { Instrument } from '../../drivers/interfaces/index.ts';
import { pixelSizeUm } from '../../planner/plan/objective.ts';
import type { StagePoint } from '../../planner/units/index.ts';
import { createSimulatedMicroscope, VirtualClock, type Faults } from '../../simulators/index.ts';
import { forbidden, logMoves } from '../support/moveLog.ts';
import type { Variation } from './variations.ts';

/** How an instrument was left, for whoever opens it next. */
export interface Left {
  readonly atMs: number;
  readonly stageUm: StagePoint;
  readonly zUm: number;
  readonly objective: number;
  readonly lampIntensity: number;
}

/** A microscope behind the gate, with its faults within reach, and an onlooker below the gate who sees where things truly stand. */
export interface Bench extends OpenInstrument {
  readonly faults: Faults;
  /** True time, which no fault can set. */
  readonly clock: VirtualClock;
  left(): Left;
  /** Commands that should never have reached a device, in words. */
  forbidden(): readonly string[];
}

/** Objective well up, light off: as a person leaves an instrument in the evening. */
export function leftInTheEvening({ limits }: InstrumentConfig, atMs: number): Left {
  return { atMs, stageUm: { xUm: 10_000, yUm: 10_000 }, zUm: limits.safeHeightUm + 500, objective: 0, lampIntensity: 0 };
}

function microscopeOf({ files, tray, seed }: Variation, { atMs, stageUm, zUm }: Left, clock: VirtualClock) {
  const { config } = files;
  const { limits, stage, focus, camera, lamp } = config;
  const places = Object.values(config.objectives).sort((a, b) => a.turretPosition - b.turretPosition);
  return createSimulatedMicroscope({
    seed,
    tray,
    camera,
    objectives: places.map(({ turretPosition: _, ...objective }) => ({ ...objective, cameraToStageUm: cameraToStageFor(config, pixelSizeUm(camera.pixelPitchUm, objective.magnification)) })),
    lamp: lamp.kind,
    stage: {
      startAtUm: stageUm,
      maxSpeedUmPerS: stage.maxSpeedUmPerS,
      accelerationUmPerS2: stage.accelerationUmPerS2,
      settleMs: stage.settleMs,
      travel: { xMinUm: limits.xMinUm, xMaxUm: limits.xMaxUm, yMinUm: limits.yMinUm, yMaxUm: limits.yMaxUm },
    },
    focus: { zMinUm: limits.zMinUm, zMaxUm: limits.zMaxUm, startAtUm: zUm, speedUmPerS: focus.speedUmPerS },
    startMs: atMs,
    clock,
  });
}

/** Opens the variation's microscope as it was left; all its faults are mended. */
export async function openBench(variation: Variation, left: Left): Promise<Bench> {
  const { config } = variation.files;
  const limits = safetyLimitsFor(config);
  const clock = new VirtualClock({ startMs: left.atMs });
  const { instrument: raw, faults, standing } = microscopeOf(variation, left, clock);
  await raw.lamp.setIntensity(left.lampIntensity);
  if (left.objective !== 0) await raw.turret.moveTo(left.objective);
  const log = logMoves(raw, standing);
  const turnedLow: string[] = [];
  const turret: Instrument['turret'] = {
    positions: raw.turret.positions,
    position: () => raw.turret.position(),
    close: () => raw.turret.close(),
    moveTo(position) {
      if (position !== standing.objective() && standing.zUm() < limits.safeHeightUm) turnedLow.push(`the turret turned with the objective at ${standing.zUm()} um`);
      return raw.turret.moveTo(position);
    },
  };
  const instrument = guardInstrument({ ...log.instrument, turret }, limits, patienceFor(config));
  return {
    instrument,
    faults,
    clock,
    counters: () => ({}),
    setPace: () => undefined,
    left: () => ({ atMs: clock.now(), stageUm: standing.stageUm(), zUm: standing.zUm(), objective: standing.objective(), lampIntensity: standing.lampIntensity() }),
    forbidden: () => [...forbidden(log.commands, limits).map((command) => JSON.stringify(command)), ...turnedLow],
    async close() {
      await instrument.camera.close();
      clock.close();
    },
  };
}
