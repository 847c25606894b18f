import { z } from 'zod';
import type { Matrix2 } from '../../planner/units/index.ts';

const file = z.string().min(1).max(255);
const row = z.tuple([z.number(), z.number()]);

/**
 * `frame-set.json`, version 1. Keys that are not named here are ignored, so that a set may carry notes of its own; a named key of
 * the wrong type or out of bounds is an error.
 */
export const frameSetSchema = z.object({
  format: z.literal('frame-set/1').optional(),
  title: z.string().optional(),
  objective: z.object({ magnification: z.number().positive(), numericalAperture: z.number().positive().lt(1, 'must be below 1: contrast is reckoned in air') }),
  cameraToStageUm: z.tuple([row, row]).refine(([[a, b], [c, d]]) => Math.abs(a * d - b * c) > 1e-9, 'the matrix has no inverse'),
  transfer: z.enum(['linear', 'srgb']),
  illumination: z.string().default('unknown'),
  material: z.string().min(1),
  oxideNm: z.number().min(0).max(2000),
  whiteBalance: z.enum(['substrate', 'mirror', 'unknown']).default('unknown'),
  blankFrame: file.optional(),
  darkFrame: file.optional(),
  bayer: z.enum(['RGGB', 'GRBG', 'GBRG', 'BGGR']).optional(),
  bitDepth: z.number().int().min(8).max(16).optional(),
  strayLight: z.number().min(0).max(0.3).default(0),
  frames: z.array(z.object({ file, xUm: z.number(), yUm: z.number() })).min(1).max(100_000),
});

export type FrameSetFile = z.infer<typeof frameSetSchema>;

/** The file's nested rows as the flat matrix that the rest of Nightjar uses. */
export function flatMatrix([[a, b], [c, d]]: FrameSetFile['cameraToStageUm']): Matrix2 {
  return [a, b, c, d];
}
