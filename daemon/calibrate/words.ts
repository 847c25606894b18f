import { matrixErrors, matrixParts } from '../../planner/frames/calibration/cameraMatrix.ts';
import type { OpticalPath } from '../config/resolve.ts';
import type { BacklashCalibration } from './backlash.ts';
import type { CameraCalibration } from './camera.ts';
import type { ObjectiveCalibration } from './objectives.ts';
import type { ScaleCalibration } from './scale.ts';

/** Said before anything moves. */
export const caution = [
  'The stage and the objective are about to move. Keep hands and loose parts away.',
  'Ctrl-C asks the controllers to halt. It is not a safety device: use the switch at the instrument.',
].join('\n');

/** What is to be put into the instrument file, under its heading. */
function paste(lines: readonly string[]): string {
  return ['', 'For instrument.yaml:', '', ...lines].join('\n');
}

export function cameraText({ fit, matrix, isAccurate }: CameraCalibration, path: OpticalPath): string {
  const parts = matrixParts(fit.cameraToStageUm);
  const { scale, rotationDeg } = matrixErrors(fit);
  const percent = (pixelUm: number): string => `${signed(100 * (pixelUm / path.pixelUm - 1), 3)} %`;
  return [
    `Camera on the stage, from ${fit.stops} stops${fit.leftOut > 0 ? ` (${fit.leftOut} left out as mismatched)` : ''}:`,
    `  scale      columns ${parts.columnUm.toFixed(5)}, rows ${parts.rowUm.toFixed(5)} µm of the stage per pixel (${percent(parts.columnUm)}, ${percent(parts.rowUm)} against the nominal pixel), each ± ${(100 * scale).toFixed(3)} %`,
    `  rotation   ${signed(parts.rotationDeg, 4)} ± ${rotationDeg.toFixed(4)} degrees; columns and rows are ${signed(parts.skewDeg, 4)} degrees off a right angle`,
    `  mirrored   ${parts.mirrored ? 'yes' : 'no'}`,
    `  the stage comes back to a place within ${fit.restUm.toFixed(2)} µm (one axis, one standard deviation)`,
    ...(isAccurate ? [] : ['  This is less certain than it should be (0.025 %, 0.006 degrees): there is too little to see around this place, or the chip is too small.']),
    paste(['cameraToStage:', `  matrix: [${matrix.map((entry) => entry.toFixed(6)).join(', ')}]`]),
    '',
    'This takes the place of `rotationDeg` and `mirrored`. It counts in the stage\'s own µm: how long these are, `nightjar calibrate scale` tells with a stage micrometer.',
  ].join('\n');
}

export function backlashText({ x, y, visits, playUm, backlashUm }: BacklashCalibration): string {
  const axis = (name: string, fit: BacklashCalibration['x']): string => `  ${name}   ${fit.playUm.toFixed(2)} ± ${fit.errorUm.toFixed(2)} µm; it comes back from one side within ${fit.scatterUm.toFixed(2)} µm`;
  return [
    `Slack of the stage, from ${visits} visits from each side:`,
    axis('x', x),
    axis('y', y),
    paste(['stage:', `  playUm: [${playUm.join(', ')}]`, `  backlashUm: ${backlashUm}`]),
    '',
    'With `playUm` rows of tiles run both ways, and the slack is made up for; `backlashUm` is by how much a place is passed to take it up, with a margin.',
  ].join('\n');
}

export function objectiveText({ first, other, parfocal, parfocalUm, parcentricUm, parcentricErrorUm }: ObjectiveCalibration): string {
  return [
    `${other.objective} against ${first.objective}:`,
    `  focus            ${signed(parfocalUm, 2)} ± ${parfocal.errorUm.toFixed(2)} µm`,
    `  picture centre   x ${signed(parcentricUm.xUm, 2)}, y ${signed(parcentricUm.yUm, 2)} µm, each ± ${parcentricErrorUm.toFixed(2)} µm`,
    paste(['objectives:', `  ${other.objective}:`, `    parfocalUm: ${parfocalUm.toFixed(2)}`, `    parcentricXUm: ${parcentricUm.xUm.toFixed(2)}`, `    parcentricYUm: ${parcentricUm.yUm.toFixed(2)}`]),
  ].join('\n');
}

/** How to lay a stage micrometer; said before its calibration begins. */
export const micrometerText = [
  'A stage micrometer for reflected light is wanted: lines at equal, known distances (`--pitch-um`), at least ten in the picture.',
  'Lay it flat where a chip lies, its lines about at right angles to the axis of the stage that is to be measured, so that they fill the',
  'picture, and give the place of its middle with `--at x,y`. Turn it by a quarter and do it again for the other axis.',
].join('\n');

export function scaleText({ pixelUm, error, magnification, stagePerTrue, acrossDeg, frames }: ScaleCalibration, path: OpticalPath, hasMatrix: boolean): string {
  const off = 100 * (stagePerTrue - 1);
  return [
    `True scale, from ${frames} pictures of the micrometer:`,
    `  a pixel is ${pixelUm.toFixed(5)} µm ± ${(100 * error).toFixed(3)} % (nominal ${path.pixelUm.toFixed(5)} µm), so ${path.objective} magnifies ${magnification.toFixed(4)} times`,
    `  along ${acrossDeg.toFixed(1)} degrees a true millimetre is ${(1000 * stagePerTrue).toFixed(2)} µm of the stage (${signed(off, 3)} %)${hasMatrix ? '' : ', if the nominal pixel is the stage\'s: run `nightjar calibrate camera` first to know'}`,
    paste(['objectives:', `  ${path.objective}:`, `    magnification: ${magnification.toFixed(4)}`]),
    '',
    'Then run `nightjar calibrate camera` again, for its matrix counts in nominal pixels.',
  ].join('\n');
}

function signed(value: number, digits: number): string {
  return `${value < 0 ? '\u2212' : '+'}${Math.abs(value).toFixed(digits)}`;
}
