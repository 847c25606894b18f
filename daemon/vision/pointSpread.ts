import { pixelAreaUm2 } from '../../planner/units/index.ts';
import type { FramePose } from '../../planner/units/index.ts';
import type { PointSpread } from './terraces.ts';

/** Mean wavelength of the light that the point spread is reckoned with, um. */
const MEAN_WAVELENGTH_UM = 0.55;

/** Point spread as a Gaussian: sigma 0.21 wavelength / NA (of an Airy disc, common practice), with the pixel's own box of variance 1/12. */
export function pointSpread(numericalAperture: number, pose: FramePose): PointSpread {
  const pixelUm = Math.sqrt(pixelAreaUm2(pose.cameraToStageUm));
  const optical = (0.21 * MEAN_WAVELENGTH_UM) / Math.max(numericalAperture, 0.02) / pixelUm;
  const sigmaPx = Math.sqrt(optical * optical + 1 / 12);
  return { sigmaPx, clearPx: Math.max(2, Math.ceil(2.5 * sigmaPx)) };
}
