import type { SafetyLimits } from '../../drivers/interfaces/index.ts';

/** Of an invented instrument. */
export const limits: SafetyLimits = {
  xMinUm: -20_000,
  xMaxUm: 20_000,
  yMinUm: -10_000,
  yMaxUm: 10_000,
  zMinUm: 0,
  zMaxUm: 5000,
  safeHeightUm: 2000,
  maxLowTravelUm: 3000,
  maxLowSpeedUmPerS: 10_000,
  maxLowFocusSpeedUmPerS: 500,
  maxLampIntensity: 0.8,
};
