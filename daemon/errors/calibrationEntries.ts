import type { CalibrationRefusal } from '../../planner/frames/calibration/refusals.ts';
import type { CalibrationDetails, EntriesFor } from './codes.ts';
import { figure, lengthUm } from './words.ts';

function point([x, y]: readonly [number, number]): string {
  return `(${figure(x)}, ${figure(y)}) µm`;
}

/** What happened, and what to do about it. */
function say(refusal: CalibrationRefusal): readonly [string, string] {
  switch (refusal.code) {
    case 'tooLittleTexture':
      return [`${refusal.matched} of ${refusal.of} pictures could be matched, and ${refusal.least} are needed: there is too little to see, or it is out of focus.`, 'Go to a place with flakes, dust or scratches all round (`--at x,y`), and look whether it is in focus.'];
    case 'noFocus':
      return [`Focus was not found with ${refusal.objective} within ${lengthUm(refusal.rangeUm)} of ${lengthUm(refusal.centreUm)}.`, 'Focus by hand and correct `focus.expectedUm`, widen `--focus-range-um`, or go to a place with more to see.'];
    case 'badFit':
      return [`The pictures do not follow the stage: ${figure(refusal.restUm, 2)} µm are left where ${figure(refusal.allowedUm, 2)} µm are allowed.`, 'Look whether chip and holder lie firmly, and whether the stage settles for long enough (`stage.settleMs`).'];
    case 'tooUncertain':
      return [`What was measured is not certain enough: the error of ${refusal.what} is ${figure(refusal.error, 3)} ${unit(refusal.unit)}, and ${figure(refusal.allowed, 3)} ${unit(refusal.unit)} are allowed.`, 'Go to a place with more to see over a larger area, or to a larger chip.'];
    case 'otherScale':
      return [`The picture is ${figure(refusal.factor, 2)} times as large per pixel as ${refusal.objective} should give.`, 'Check that this objective is in place, its `magnification`, the camera\'s `pixelPitchUm` with binning, and `--pitch-um`.'];
    case 'otherMatrix':
      return [`The stage went by ${point(refusal.movedUm)}, and the picture by ${point(refusal.shownUm)}: \`cameraToStage\` in the instrument file is not this camera's.`, 'Run `nightjar calibrate camera` first, and put its result into the file.'];
    case 'noLines':
      return ['No lines at equal distances are in the picture.', 'Lay the micrometer so that its lines fill the picture, and go to them with `--at x,y`.'];
    case 'notFoundAgain':
      return [`What ${refusal.objective} shows was not found again through the other objective within ${lengthUm(refusal.withinUm)}.`, 'Go to a place with a flake in the middle of the picture, and check both objectives\' `turretPosition`.'];
  }
}

function unit(name: string): string {
  return name === 'um' ? 'µm' : name;
}

/** Calibrating the instrument. */
export const calibrationEntries: EntriesFor<CalibrationDetails> = {
  calibrationRefused: {
    exit: 1,
    say: ({ procedure, refusal }) => {
      const [happened, next] = say(refusal);
      return [`No calibration of ${procedure}: ${happened}`, 'The instrument file is as it was.', next];
    },
  },
};
