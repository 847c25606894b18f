import { guardInstrument } from '../../drivers/safety/gate.ts';
import type { Clock, Instrument } from '../../drivers/interfaces/index.ts';
import { pixelSizeUm } from '../../planner/plan/objective.ts';
import { createSimulatedMicroscope, faultKinds, findTray, makeTray, paceBy, trayNames, type Remounting, type ChipWish, type Faults, type SimulatedMicroscope, type SimulatedObjective, type Tray } from '../../simulators/index.ts';
import type { InstrumentConfig } from '../config/instrument.ts';
import { cameraToStageFor, safetyLimitsFor } from '../config/resolve.ts';
import { NightjarError } from '../errors/index.ts';
import { patienceFor } from './patienceFor.ts';
import { hasRealDevices, isAllReal, openRealDevices } from './realDevices.ts';

export interface OpenInstrument {
  /** Behind the safety gate; nothing else of the instrument ever leaves this file. */
  readonly instrument: Instrument;
  /** `fast`: a simulated night runs as fast as the computer can; `real`: its seconds are seconds. Nothing for real devices. */
  setPace(pace: 'fast' | 'real'): void;
  /** What the drivers have counted (lines, retries, frames lost), for the log. */
  counters(): Readonly<Record<string, object>>;
  close(): Promise<void>;
}

export interface OpenOptions {
  /** Real time, by which a simulated instrument is slowed down for people to watch. */
  readonly realClock: Clock;
  /** What a simulated night's own clock says at first, ms since 1970; the real time when left out. */
  readonly startMs?: number;
  /** Where simulated frames are rendered: in a thread of their own (needs the build), or in this one. */
  readonly renderIn?: 'worker' | 'here';
}

/**
 * Opens the devices that the instrument file names, and puts the safety gate round them. Where any of them is real, the simulated ones
 * beside it live in real time. Rejects with what the drivers say, everything that was opened before closed again; `unknownTray`.
 */
export async function openInstrument(config: InstrumentConfig, options: OpenOptions): Promise<OpenInstrument> {
  if (!hasRealDevices(config)) return openSimulatedInstrument(config, options);
  const real = await openRealDevices(config, options.realClock);
  try {
    const simulated = isAllReal(config) ? undefined : simulatedMicroscope(config, options, options.realClock);
    const raw = wholeInstrument({ ...simulated?.instrument, ...real.devices }, options.realClock);
    const instrument = guardInstrument(raw, safetyLimitsFor(config), patienceFor(config));
    return {
      instrument,
      setPace: () => undefined,
      counters: () => real.counters(),
      close: async () => {
        await simulated?.instrument.camera.close();
        await real.close();
      },
    };
  } catch (error) {
    await real.close();
    throw error;
  }
}

/** An instrument of simulated devices alone, in virtual time. Throws `unknownTray`. */
export function openSimulatedInstrument(config: InstrumentConfig, options: OpenOptions): OpenInstrument {
  return opened(simulatedMicroscope(config, options), config, options);
}

/** A chip of a tray that is invented for a rehearsal. */
export type InventedChip = ChipWish;

/** The twin of an instrument, with the switches of its faults. */
export interface OpenTwin extends OpenInstrument {
  readonly faults: Faults;
}

/** What can be made to go wrong with a twin, by kind. */
export const twinFaults = faultKinds;

/** An instrument of simulated devices alone with invented chips under it, in virtual time. The file must name no real device. */
export function openTwin(config: InstrumentConfig, chips: readonly InventedChip[], options: OpenOptions): OpenTwin {
  const microscope = simulatedMicroscope(config, options, undefined, makeTray('invented', chips));
  return { ...opened(microscope, config, options), faults: microscope.faults };
}

function opened(microscope: SimulatedMicroscope, config: InstrumentConfig, options: OpenOptions): OpenInstrument {
  const instrument = guardInstrument(microscope.instrument, safetyLimitsFor(config), patienceFor(config));
  const realPace = paceBy(options.realClock, 1);
  return {
    instrument,
    setPace: (pace) => microscope.virtualClock?.setPace(pace === 'real' ? realPace : undefined),
    counters: () => ({}),
    close: async () => {
      await instrument.camera.close();
      microscope.virtualClock?.close();
    },
  };
}

/** Every device there must be is there: the schema wants a driver for each. */
function wholeInstrument({ stage, focus, camera, turret, lamp, fieldStop }: Partial<Instrument>, clock: Clock): Instrument {
  if (!stage || !focus || !camera || !turret || !lamp) throw new NightjarError('internal', { reason: 'a device was not opened' });
  return { clock, stage, focus, camera, turret, lamp, ...(fieldStop ? { fieldStop } : {}) };
}

/** @param clock another clock than a virtual one of its own */
function simulatedMicroscope(config: InstrumentConfig, options: OpenOptions, clock?: Clock, tray: Tray = trayOf(config)): SimulatedMicroscope {
  const { limits, stage, focus, camera, lamp } = config;
  return createSimulatedMicroscope({
    ...(clock ? { clock } : {}),
    seed: config.simulator?.seed ?? 0,
    tray,
    ...(config.simulator?.remounted ? { remounted: remountings(config.simulator.remounted) } : {}),
    camera,
    objectives: objectivesByPosition(config),
    lamp: lamp.kind,
    stage: {
      maxSpeedUmPerS: stage.maxSpeedUmPerS,
      accelerationUmPerS2: stage.accelerationUmPerS2,
      ...(stage.jerkUmPerS3 === undefined ? {} : { jerkUmPerS3: stage.jerkUmPerS3 }),
      settleMs: stage.settleMs,
      travel: { xMinUm: limits.xMinUm, xMaxUm: limits.xMaxUm, yMinUm: limits.yMinUm, yMaxUm: limits.yMaxUm },
    },
    focus: { zMinUm: limits.zMinUm, zMaxUm: limits.zMaxUm, startAtUm: limits.zMaxUm, speedUmPerS: focus.speedUmPerS, accelerationUmPerS2: focus.accelerationUmPerS2 },
    ...(focus.fieldStop ? { fieldStop: { offsetUm: focus.fieldStop.offsetUm } } : {}),
    startMs: options.startMs ?? options.realClock.now(),
    renderIn: options.renderIn ?? 'worker',
  });
}

function trayOf(config: InstrumentConfig): Tray {
  const trayName = config.simulator?.tray ?? 'demo';
  const tray = findTray(trayName);
  if (!tray) throw new NightjarError('unknownTray', { tray: trayName, known: trayNames });
  return tray;
}

/** The turret's places in order; a place without an objective takes that of the lowest one. Throws `badConfig` when there is none. */
function objectivesByPosition(config: InstrumentConfig): readonly SimulatedObjective[] {
  const listed = Object.values(config.objectives).sort((a, b) => a.turretPosition - b.turretPosition);
  const [lowest] = listed;
  if (!lowest) throw new NightjarError('badConfig', { file: 'instrument', problems: [{ line: 1, key: 'objectives', message: 'there is no objective' }] });
  const places = Math.max(...listed.map((each) => each.turretPosition)) + 1;
  return Array.from({ length: places }, (_, position) => {
    const { magnification, numericalAperture, parfocalUm, parcentricXUm, parcentricYUm } = listed.find((each) => each.turretPosition === position) ?? lowest;
    return { magnification, numericalAperture, parfocalUm, parcentricXUm, parcentricYUm, cameraToStageUm: cameraToStageFor(config, pixelSizeUm(config.camera.pixelPitchUm, magnification)) };
  });
}

function remountings(remounted: NonNullable<NonNullable<InstrumentConfig['simulator']>['remounted']>): Readonly<Record<string, Remounting>> {
  return Object.fromEntries(Object.entries(remounted).map(([chip, { turnDeg, shiftUm }]) => [chip, { turnDeg, shiftUm: { xUm: shiftUm[0], yUm: shiftUm[1] } }]));
}
