import { findLines } from '../../planner/frames/calibration/lines.ts';
import { apply2, invert2 } from '../../planner/units/index.ts';
import { begin, goTo, look, refuse, type Bench } from './bench.ts';
import { meanOf } from './mean.ts';

/** Frames at places a little apart, so that no speck of dust and no pixel's edge counts. */
const frames = 9;
/** Standard error, as a share, beyond which the lines are not believed: half of what the scale is to be known to. */
const allowedShare = 0.0005;
const mostFactor = 1.3;

export interface ScaleCalibration {
  /** Side of a pixel in the object. */
  readonly pixelUm: number;
  /** Standard error as a share. */
  readonly error: number;
  readonly magnification: number;
  /** Stage um for one true um, across the lines. */
  readonly stagePerTrue: number;
  /** Direction across the lines on the stage, from +x towards +y. */
  readonly acrossDeg: number;
  readonly frames: number;
}

/**
 * True size of a pixel from a stage micrometer that lies in the picture: the period of its lines in pixels, and in stage um by the
 * camera's matrix.
 * @param pitchUm true distance of two neighbouring lines
 */
export async function calibrateScale(bench: Bench, pitchUm: number): Promise<ScaleCalibration> {
  await begin(bench, 'scale');
  const { path, atUm, config } = bench;
  const readings: { readonly periodPx: number; readonly periodUm: number; readonly acrossDeg: number }[] = [];
  const stepUm = pitchUm * 0.37;
  for (let n = 0; n < frames; n++) {
    await goTo(bench, { xUm: atUm.xUm + n * stepUm, yUm: atUm.yUm + n * stepUm });
    const found = findLines(await look(bench));
    if (!found.ok) return refuse('scale', found.refusal);
    const { perCol, perRow, periodPx } = found.grating;
    // A wave k on the stage shows as f = transpose(A) k.
    const [m00, m01, m10, m11] = invert2(path.cameraToStageUm) ?? [NaN, NaN, NaN, NaN];
    const [kx, ky] = apply2([m00, m10, m01, m11], perCol, perRow);
    readings.push({ periodPx, periodUm: 1 / Math.hypot(kx, ky), acrossDeg: halfTurn((Math.atan2(ky, kx) * 180) / Math.PI) });
  }
  const periodPx = meanOf(readings.map((reading) => reading.periodPx));
  const scatter = Math.sqrt(readings.reduce((sum, reading) => sum + (reading.periodPx / periodPx - 1) ** 2, 0) / (frames - 1));
  const pixelUm = pitchUm / periodPx;
  const factor = pixelUm / path.pixelUm;
  if (factor > mostFactor || factor < 1 / mostFactor) refuse('scale', { code: 'otherScale', factor, objective: path.objective });
  const error = scatter / Math.sqrt(frames);
  if (error > allowedShare) refuse('scale', { code: 'tooUncertain', what: 'the scale', error: 100 * error, allowed: 100 * allowedShare, unit: '%' });
  const stagePerTrue = meanOf(readings.map((reading) => reading.periodUm)) / pitchUm;
  return { pixelUm, error, magnification: config.camera.pixelPitchUm / pixelUm, stagePerTrue, acrossDeg: readings[0]?.acrossDeg ?? NaN, frames };
}

/** Lines have no sense of direction: within -90 to 90 degrees. */
function halfTurn(deg: number): number {
  return deg > 90 ? deg - 180 : deg <= -90 ? deg + 180 : deg;
}
