import type { GcodeAxis } from '../../../drivers/gcode/index.ts';

/** The fake's axes as an instrument file would describe them: x grows with the machine, y against it, z away from the chip. */
export const AXES = {
  x: { letter: 'X', sign: 1, originUm: 20_000, minUm: 16_000, maxUm: 19_000, stepsPerMm: 4000 },
  y: { letter: 'Y', sign: -1, originUm: 0, minUm: 1000, maxUm: 4000, stepsPerMm: 4000 },
  z: { letter: 'Z', sign: 1, originUm: 5000, minUm: 2000, maxUm: 4000, stepsPerMm: 10_000 },
} as const satisfies Record<string, GcodeAxis>;
