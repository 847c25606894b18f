/** One axis of the controller and what it moves. */
export interface GcodeAxis {
  /** The controller's letter for it. */
  readonly letter: 'X' | 'Y' | 'Z';
  /** 1 where um grow with the machine's mm, -1 where they fall. For focus, um grow away from the chip. */
  readonly sign: 1 | -1;
  /** Its um at the machine's zero; with `reference: 'byHand'` its um at the reference place. */
  readonly originUm: number;
  /** Where it can go. */
  readonly minUm: number;
  readonly maxUm: number;
  /** What the controller must be set to ($100 to $102): wrong steps move to wrong places. */
  readonly stepsPerMm: number;
  /** Never faster than this; the controller's own limit ($110 to $112) when left out. */
  readonly maxSpeedUmPerS?: number;
}

const LETTERS = ['X', 'Y', 'Z'] as const;

/** Its place in the lists of positions and settings. */
export function axisIndex({ letter }: Pick<GcodeAxis, 'letter'>): 0 | 1 | 2 {
  const index = LETTERS.indexOf(letter);
  return index === 2 ? 2 : index === 1 ? 1 : 0;
}

/** Nm are the last digits of a um that anybody uses; further ones are noise of the arithmetic. */
function trimmed(um: number): number {
  return Math.round(um * 1000) / 1000;
}

/** Machine mm to um. `referenceMm` is where the reference place has the machine's count: 0 with homing. */
export function toUm({ sign, originUm }: GcodeAxis, mm: number, referenceMm: number): number {
  return trimmed(originUm + sign * (mm - referenceMm) * 1000);
}

/** Um to machine mm, at the motor step nearest to it: where the controller really goes. */
export function toStepMm({ sign, originUm, stepsPerMm }: GcodeAxis, um: number, referenceMm: number): number {
  const mm = referenceMm + (sign * (um - originUm)) / 1000;
  return Math.round(mm * stepsPerMm) / stepsPerMm;
}
