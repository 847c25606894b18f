import { fitCameraMatrix, matrixErrors, matrixParts, shownAfter, type CameraMatrixFit, type MatrixStop } from '../../planner/frames/calibration/cameraMatrix.ts';
import { powerOfTwoWithin } from '../../planner/frames/fourier.ts';
import { shiftNear } from '../../planner/frames/calibration/shiftNear.ts';
import type { GreyPicture } from '../../planner/frames/greyPicture.ts';
import { measureShift } from '../../planner/frames/phaseCorrelation.ts';
import { invert2, type Matrix2, type PixelPoint, type StagePoint } from '../../planner/units/index.ts';
import { begin, goTo, learnLevel, look, refuse, type Bench } from './bench.ts';
import type { Level } from './level.ts';

/** Standard error of scale and of rotation that the moves go on for: less than a third of what is asked of the matrix (0.1 %, 0.02 degrees). */
const wantedScale = 0.000_25;
const wantedDeg = 0.006;
/** A matrix that is less certain than this is not given. */
const allowedScale = 0.002;
const allowedDeg = 0.04;
const directions = 8;
/** A move, as a share of the field's shorter side: what two frames have in common is then large. */
const stepShare = 0.35;
/** First moves of all, along one axis each: a picture that may be turned and mirrored anyhow is still found. */
const firstShare = 0.08;
const mostReachUm = 2000;
const mostStops = 500;
/**
 * A ray ends where less stands out: with 28 and more all of 45 shifts over windows of 512 px were right within 0.15 px in simulation, below
 * some were off by 1 to 2, and every later stop of the ray with them. What stands out grows with a window's side, and so does this.
 */
const scorePerPx = 28 / 512;
const leastScore = 7;
/** The stage may be off by this much, beside 2 % of the way. */
const strayUm = 6;
/** A stage that scatters more than this (one axis, root mean square) is not calibrated but mended. */
const allowedRestUm = 4;
/** A picture that moves by another amount than expected by more than this factor comes from another objective. */
const mostFactor = 1.3;

export interface CameraCalibration {
  readonly fit: CameraMatrixFit;
  /** In units of the nominal pixel, as `cameraToStage.matrix` takes it. */
  readonly matrix: Matrix2;
  readonly isAccurate: boolean;
}

/** A place of the star: the picture there and where the first picture's middle lies in it. */
interface Stop {
  readonly atUm: StagePoint;
  readonly picture: GreyPicture;
  readonly shownPx: PixelPoint;
}

/**
 * Measures the camera's matrix: out and out again from one place in eight directions, every stop approached from below on both axes, the
 * shift from stop to stop by phase correlation. The shifts add up along a ray, so that the stage's own scatter is divided by the
 * length of the ray and by the number of stops; rays in between follow until the errors are small enough or nothing new is found.
 */
export async function calibrateCamera(bench: Bench): Promise<CameraCalibration> {
  await begin(bench, 'camera');
  bench.tell('Learning what stands still on the sensor.');
  const level = await learnLevel(bench);
  const centre: Stop = { atUm: await goTo(bench, bench.atUm), picture: await look(bench, level), shownPx: { colPx: 0, rowPx: 0 } };
  let matrix = await firstMatrix(bench, centre, level);
  const stops: MatrixStop[] = [{ stageUm: centre.atUm, shownPx: centre.shownPx }];
  let fit: CameraMatrixFit | undefined;
  for (let round = 0; stops.length < mostStops; round++) {
    bench.tell(`Star ${round + 1}: ${directions} directions${fit ? `, ${stops.length} stops so far` : ''}.`);
    const before = stops.length;
    for (let n = 0; n < directions; n++) {
      // Each round turns the star a little, so that no stop is made twice.
      const angle = (2 * Math.PI * (n + (round * 0.382) % 1)) / directions;
      stops.push(...(await ray(bench, centre, matrix, angle, level)));
      fit = fitted(stops);
      // Until the rays span the plane the first matrix leads further than their fit.
      if (fit && matrixErrors(fit).scale <= allowedScale) matrix = fit.cameraToStageUm;
    }
    if ((fit && isEnough(fit)) || stops.length < before + directions) break;
  }
  return judged(bench, fit ?? lastFit(stops), stops.length);
}

function fitted(stops: readonly MatrixStop[]): CameraMatrixFit | undefined {
  const result = fitCameraMatrix(stops, Infinity);
  return result.ok ? result.fit : undefined;
}

function lastFit(stops: readonly MatrixStop[]): CameraMatrixFit {
  const result = fitCameraMatrix(stops, allowedRestUm);
  return result.ok ? result.fit : refuse('camera', result.refusal);
}

function isEnough(fit: CameraMatrixFit): boolean {
  const { scale, rotationDeg } = matrixErrors(fit);
  return scale <= wantedScale && rotationDeg <= wantedDeg;
}

function judged({ path }: Bench, fit: CameraMatrixFit, stops: number): CameraCalibration {
  if (fit.restUm > allowedRestUm) refuse('camera', { code: 'badFit', restUm: fit.restUm, allowedUm: allowedRestUm });
  if (fit.stops < stops / 2) refuse('camera', { code: 'tooLittleTexture', matched: fit.stops, of: stops, least: Math.ceil(stops / 2) });
  const { scale, rotationDeg } = matrixErrors(fit);
  if (scale > allowedScale) refuse('camera', { code: 'tooUncertain', what: 'the scale', error: 100 * scale, allowed: 100 * allowedScale, unit: '%' });
  if (rotationDeg > allowedDeg) refuse('camera', { code: 'tooUncertain', what: 'the rotation', error: rotationDeg, allowed: allowedDeg, unit: 'degrees' });
  const [a, b, c, d] = fit.cameraToStageUm;
  return { fit, matrix: [a / path.pixelUm, b / path.pixelUm, c / path.pixelUm, d / path.pixelUm], isAccurate: isEnough(fit) };
}

/** A first matrix from one short move along each axis, found wherever in the picture they lead. */
async function firstMatrix(bench: Bench, centre: Stop, level: Level): Promise<Matrix2> {
  const { config, path } = bench;
  const stepUm = firstShare * path.pixelUm * Math.min(config.camera.widthPx, config.camera.heightPx);
  const alongX = await firstShift(bench, centre, { xUm: stepUm, yUm: 0 }, level);
  const alongY = await firstShift(bench, centre, { xUm: 0, yUm: stepUm }, level);
  // The picture moves against the stage.
  const inverse = invert2([-alongX.colPx / stepUm, -alongY.colPx / stepUm, -alongX.rowPx / stepUm, -alongY.rowPx / stepUm]);
  if (!inverse) return refuse('camera', { code: 'tooLittleTexture', matched: 0, of: 2, least: 2 });
  const parts = matrixParts(inverse);
  for (const factor of [parts.columnUm / path.pixelUm, parts.rowUm / path.pixelUm]) {
    if (factor > mostFactor || factor < 1 / mostFactor) refuse('camera', { code: 'otherScale', factor, objective: path.objective });
  }
  return inverse;
}

async function firstShift(bench: Bench, { atUm, picture }: Stop, by: StagePoint, level: Level): Promise<PixelPoint> {
  await goTo(bench, { xUm: atUm.xUm + by.xUm, yUm: atUm.yUm + by.yUm });
  const result = measureShift(picture, await look(bench, level));
  return result.ok ? result.shift : refuse('camera', { code: 'tooLittleTexture', matched: 0, of: 2, least: 2 });
}

/** One ray of the star: back to the middle, then outwards until its end, or until what is seen cannot be matched any more. */
async function ray(bench: Bench, centre: Stop, matrix: Matrix2, angle: number, level: Level): Promise<readonly MatrixStop[]> {
  const { config, path, atUm } = bench;
  const stepUm = stepShare * path.pixelUm * Math.min(config.camera.widthPx, config.camera.heightPx);
  const reachUm = Math.min(mostReachUm, config.limits.maxLowTravelUm / 2);
  const found: MatrixStop[] = [];
  let last = centre;
  for (let n = 0; n * stepUm <= reachUm; n++) {
    const target = { xUm: atUm.xUm + n * stepUm * Math.cos(angle), yUm: atUm.yUm + n * stepUm * Math.sin(angle) };
    if (!isWithin(bench, target)) break;
    const next = await nextStop(bench, last, target, matrix, level);
    if (!next) break;
    found.push({ stageUm: next.atUm, shownPx: next.shownPx });
    last = next;
  }
  return found;
}

function isWithin({ config: { limits, stage } }: Bench, { xUm, yUm }: StagePoint): boolean {
  const roomUm = 2 * stage.backlashUm;
  return xUm - roomUm > limits.xMinUm && xUm < limits.xMaxUm && yUm - roomUm > limits.yMinUm && yUm < limits.yMaxUm;
}

async function nextStop(bench: Bench, last: Stop, target: StagePoint, matrix: Matrix2, level: Level): Promise<Stop | undefined> {
  const atUm = await goTo(bench, target);
  const picture = await look(bench, level);
  const expected = shownAfter(matrix, last.atUm, atUm);
  if (!expected) return undefined;
  const withinPx = 4 + strayUm / bench.path.pixelUm + 0.02 * Math.hypot(expected.colPx, expected.rowPx);
  const match = shiftNear(last.picture, picture, { ...expected, withinPx }, scoreFor(bench, expected));
  if (!match.ok) return undefined;
  return { atUm, picture, shownPx: { colPx: last.shownPx.colPx + match.shift.colPx, rowPx: last.shownPx.rowPx + match.shift.rowPx } };
}

/** What a match must reach whose pictures have this shift. */
function scoreFor({ config: { camera } }: Bench, { colPx, rowPx }: PixelPoint): number {
  const sidePx = Math.sqrt(Math.max(0, camera.widthPx - Math.abs(colPx)) * Math.max(0, camera.heightPx - Math.abs(rowPx)));
  return Math.max(leastScore, scorePerPx * Math.min(512, powerOfTwoWithin(Math.max(1, sidePx))));
}
