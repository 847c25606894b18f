import type { SafetyLimits } from '../../drivers/interfaces/index.ts';
import { createSimulatedMicroscope, findTray, type SimulatedMicroscope, type SimulatedMicroscopeOptions, type Tray } from '../../simulators/index.ts';

export function trayNamed(name: string): Tray {
  const tray = findTray(name);
  if (!tray) throw new Error(`no tray "${name}"`);
  return tray;
}

/** Limits that fit the simulated stage and focus drive. */
export const simulatorLimits: SafetyLimits = {
  xMinUm: 1000,
  xMaxUm: 74_000,
  yMinUm: 1000,
  yMaxUm: 49_000,
  zMinUm: 900,
  zMaxUm: 9000,
  safeHeightUm: 2000,
  maxLowTravelUm: 3000,
  maxLowSpeedUmPerS: 10_000,
  maxLowFocusSpeedUmPerS: 500,
  maxLampIntensity: 0.9,
};

/** A simulated microscope with small frames, for tests that need no fine picture. */
export function smallMicroscope(change: Partial<SimulatedMicroscopeOptions> = {}): SimulatedMicroscope {
  return createSimulatedMicroscope({
    seed: 11,
    tray: trayNamed('tiny'),
    camera: { widthPx: 64, heightPx: 48, bits: 8, transfer: 'linear', readoutMs: 20 },
    objectives: [
      { magnification: 10, numericalAperture: 0.3, cameraToStageUm: [0.69, 0, 0, -0.69] },
      { magnification: 50, numericalAperture: 0.8, cameraToStageUm: [0.138, 0, 0, -0.138] },
    ],
    startMs: 1_700_000_000_000,
    ...change,
  });
}
