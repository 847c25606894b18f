/** A feature by which a camera changes its pictures on its own, and the value at which it does not. */
export type Automatic =
  | { readonly feature: string; readonly kind: 'choice'; readonly off: string }
  | { readonly feature: string; readonly kind: 'switch'; readonly off: boolean }
  /** Where the bounds leave `off` out, the lowest value stands in for it. */
  | { readonly feature: string; readonly kind: 'number'; readonly off: number };

const choices = ['ExposureAuto', 'GainAuto', 'BlackLevelAuto', 'BalanceWhiteAuto', 'GainAutoBalance', 'BlackLevelAutoBalance', 'ColorTransformationAuto', 'SharpeningAuto', 'SaturationAuto', 'SharpnessAuto'];
const switches = ['GammaEnable', 'GammaEnabled', 'LUTEnable', 'ColorTransformationEnable', 'ColorCorrectionEnable', 'SharpeningEnable', 'SharpnessEnable', 'SaturationEnable', 'HueEnable', 'NoiseReductionEnable', 'DenoiseEnable'];

/**
 * All that is switched off on every camera that has it, in this order: exposure, gain, black level and white balance on their own, then
 * gamma, look-up table, colour matrix, sharpening and denoising. A flake is told by a contrast of some per cent: whatever bends the
 * camera's line or follows the brightness of the field takes that away. Names of the Standard Features Naming Convention and, where it
 * has none, those that makers use; from memory.
 */
export const automatics: readonly Automatic[] = [
  ...choices.map((feature): Automatic => ({ feature, kind: 'choice', off: 'Off' })),
  ...switches.map((feature): Automatic => ({ feature, kind: 'switch', off: false })),
  { feature: 'Gamma', kind: 'number', off: 1 },
  { feature: 'Sharpness', kind: 'number', off: 0 },
  { feature: 'Sharpening', kind: 'number', off: 0 },
  { feature: 'SharpnessEnhancement', kind: 'number', off: 0 },
  { feature: 'NoiseReduction', kind: 'number', off: 0 },
];

/** Registers hold numbers more coarsely than we do. */
const TOLERANCE = 1e-3;

/** Whether a value that was read back is the one that was meant. */
export function isOff(read: string | boolean | number, off: string | boolean | number): boolean {
  return typeof read === 'number' && typeof off === 'number' ? Math.abs(read - off) <= TOLERANCE : read === off;
}

/** The number to set for a feature with these bounds. */
export function offWithin(off: number, min: number, max: number): number {
  return off >= min && off <= max ? off : min;
}
