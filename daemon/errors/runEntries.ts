import { LEAST_LIKENESS } from '../../planner/frames/placedPicture.ts';
import { LINEARITY_BAR } from '../linearity/types.ts';
import type { ClassifierDetails, EntriesFor, RunDetails, Sentence } from './codes.ts';
import { counted, figure, lengthUm, stopped } from './words.ts';

const LINEARITY_BAR_PERCENT = 100 * LINEARITY_BAR;

const UNCHANGED = 'Nothing was changed.';

/** Focus nowhere; or in so few places that nobody knows how the chip lies. */
function sayNoFocus({ chip, triedUm, tile, points }: RunDetails['focusNotFound']): Sentence {
  const kept = 'Everything recorded so far is kept.';
  const tried = `${lengthUm(triedUm)} above and below the expected height were searched`;
  if (!points || points.found === 0) {
    const where = tile === undefined ? '' : ` near tile ${tile}`;
    return [`Focus was not found on chip ${chip}${where}: ${tried}.`, kept, 'Focus on the chip by hand and check that it lies where the run sheet says, or widen `focus.rangeUm`.'];
  }
  const { found, of, least, areOnOneLine } = points;
  const lack = areOnOneLine ? 'and all of them lie on one line, so that the tilt across it is unknown' : `and ${least} are needed to tell how the chip is tilted`;
  return [`On chip ${chip} focus was found at ${found} of ${of} places, ${lack}: ${tried}.`, kept, 'Ask for more places (`focus.pointsPerChip`), or search further (`focus.rangeUm`); a chip without any texture cannot be focused on.'];
}

/** The run, and what people ask of it. */
export const runEntries: EntriesFor<RunDetails> = {
  noPreflight: { exit: 2, say: () => ['No night waits here for its checks.', UNCHANGED, 'Open the page with `nightjar serve RUNSHEET --preflight`.'] },
  preflightUnderWay: { exit: 2, say: ({ asked }) => [`The checks are under way: it is not possible to ${asked} now.`, 'They go on.', 'Wait for their end, or stop them.'] },
  nightNotReady: { exit: 2, say: ({ reason }) => [`The night was not started. ${stopped(reason)}`, UNCHANGED, 'Mend what the list names, then check again.'] },
  noRun: { exit: 2, say: () => ['There is no night in these records.', UNCHANGED, 'Begin one with `nightjar scan RUNSHEET`.'] },
  noSuchRun: { exit: 2, say: ({ runId }) => [`There is no night ${runId} in these records.`, UNCHANGED, 'Check the name, or the data folder.'] },
  runActive: { exit: 2, say: ({ title }) => [`The night "${title}" is running.`, 'It goes on.', 'Wait for its end, or stop it first.'] },
  unfinishedNight: {
    exit: 2,
    say: ({ title }) => [
      `The night "${title}" in this data folder has not come to its end.`,
      'Its records are kept, and nothing was begun.',
      'Go on with it (`nightjar scan --resume`, or `nightjar serve` without a run sheet), or choose another folder with `--data`.',
    ],
  },
  notWhileScanning: {
    exit: 2,
    say: ({ asked }) => [`The stage is scanning, so this has to wait: ${stopped(asked)}`, 'The scan goes on.', 'Pause the night first, or wait for its end.'],
  },
  notInThisState: { exit: 2, say: ({ asked, state }) => [`The night is ${state}, which leaves no room for this: ${stopped(asked)}`, UNCHANGED, 'Look at what it is doing, then choose again.'] },
  noSuchChip: { exit: 2, say: ({ chip, known }) => [`There is no chip ${chip} in the last night of these records.`, UNCHANGED, `Its chips are ${known.join(', ')}; another night has a data folder of its own.`] },
  notThisChip: {
    exit: 1,
    say: ({ chip, likeness }) => [
      `This is not chip ${chip}, or its marks are not where they were said to be: what is seen near its corners does not look like the pictures of that night (likeness ${figure(likeness, 2)}, and ${LEAST_LIKENESS} is the least).`,
      'Nothing drives on; the objective was lifted.',
      'Check the name on the holder, and find the marks again; a chip that was cleaned since looks like another one.',
    ],
  },
  cornerNotFound: {
    exit: 1,
    say: ({ chip, edges }) => [
      edges >= 2 ? `The corner that is seen is none of chip ${chip}: its angle is another one.` : `No corner of chip ${chip} is in the picture there${edges === 1 ? ': one straight edge alone is' : ''}.`,
      'Nothing drives on; the objective was lifted.',
      'Give a place nearer to a corner, within a third of the field, or two marks.',
    ],
  },
  doubtfulMatch: {
    exit: 1,
    say: ({ flakeId, likeness }) => [
      `What is seen at flake ${flakeId} is not surely it: its picture does not match well enough (likeness ${figure(likeness, 2)}, and ${LEAST_LIKENESS} is the least).`,
      'Nothing drives on; the objective was lifted.',
      'Look for yourself with the live picture, or begin again with other marks.',
    ],
  },
  noSuchFlake: { exit: 2, say: ({ flakeId }) => [`There is no flake ${flakeId} in this night.`, UNCHANGED, 'It may have been merged with a neighbour: look at the list again.'] },
  noSuchTerrace: { exit: 2, say: ({ flakeId, terrace }) => [`Flake ${flakeId} has no terrace ${terrace + 1}.`, UNCHANGED, 'It may have been read again meanwhile: choose a terrace once more.'] },
  noSuchVerdict: { exit: 2, say: ({ flakeId, terrace }) => [`Nobody has given a number to terrace ${terrace + 1} of flake ${flakeId}, or it was taken back already.`, UNCHANGED, 'Look at the flake again.'] },
  cannotResume: {
    exit: 2,
    say: ({ reason }) => [`The night cannot go on: ${stopped(reason)}`, 'Its records are kept as they are.', 'Begin a new night, in a new data folder.'],
  },
  focusNotFound: { exit: 1, say: (details) => sayNoFocus(details) },
  focusLost: {
    exit: 1,
    say: ({ chip, foundUm }) => [
      foundUm === undefined ? `Focus was lost on chip ${chip}: none of the places that had shown it does now.` : `Focus on chip ${chip} had jumped by ${figure(foundUm)} µm, beyond the range that is searched.`,
      'Tiles that may be out of focus were not recorded; focus is measured anew, and they are taken again.',
      'Look at how the chip lies, and at what the stand may have been pushed by.',
    ],
  },
  noReachableZ: {
    exit: 2,
    say: ({ chip, expectedUm, rangeUm, zMinUm, zMaxUm }) => [
      `Chip ${chip} is expected in focus at ${lengthUm(expectedUm)}, and nothing within ${lengthUm(rangeUm)} of that lies between the limits of the focus drive (${lengthUm(zMinUm)} to ${lengthUm(zMaxUm)}).`,
      'Nothing was lowered.',
      'Correct `focus.expectedUm`, the objective\'s `parfocalUm` or `limits.zMinUm` in the instrument file.',
    ],
  },
  parked: {
    exit: 3,
    say: ({ tile, cause }) => [
      `The night is parked at tile ${tile}: ${stopped(cause)}`,
      'The objective is up, and every tile recorded before is kept.',
      'Look at the instrument, then go on with `--resume`.',
    ],
  },
  blackFrame: {
    exit: 1,
    say: ({ tile }) => [`The frame of tile ${tile} is black.`, 'Everything recorded so far is kept.', 'The tile is taken again; if it stays so, look at the lamp and the shutter.'],
  },
  fullFrame: {
    exit: 1,
    say: ({ tile }) => [`The frame of tile ${tile} is at the camera's full scale nearly everywhere.`, 'Everything recorded so far is kept.', 'The tile is taken again; if it stays so, look at the lamp and the exposure.'],
  },
  notLinear: {
    exit: 1,
    say: ({ channel, found, wanted, uncertainty }) => [
      `The camera is not linear: ${figure(wanted, 3)} times the exposure gave ${figure(found, 4)} ± ${figure(Math.max(0.0001, uncertainty), 4)} times the light (${channel}), where ${LINEARITY_BAR_PERCENT} % is allowed; contrast is then not to be trusted.`,
      'The night was not begun.',
      'Switch off any gamma, automatic or colour correction of the camera and check `camera.transfer`; `nightjar calibrate linearity` shows every channel. `camera.checkLinearity: false` begins without the check.',
    ],
  },
  interrupted: { exit: 130, say: () => ['It was interrupted.', 'Everything recorded so far is kept.', 'Go on with `--resume`.'] },
  internal: {
    exit: 1,
    say: ({ reason }) => [`Nightjar itself failed: ${stopped(reason)}`, 'Everything recorded so far is kept.', 'Try again; if it comes back, report it with the log.'],
  },
};

const RETAKE = 'Go on with `--resume`; the tile is then taken again.';

/** The classifier's workers. */
export const classifierEntries: EntriesFor<ClassifierDetails> = {
  queueFull: { exit: 1, say: ({ waiting }) => [`A frame was handed over while ${counted(waiting, 'frame')} waited already, which is the most.`, 'Every tile recorded before is kept.', RETAKE] },
  workerLost: { exit: 1, say: ({ exitCode }) => [`The classifier's workers end by themselves, one after the other, the last with code ${exitCode}.`, 'Every tile recorded before is kept.', RETAKE] },
  classifierFailed: { exit: 1, say: ({ message }) => [`The classifier failed on a frame: ${stopped(message)}`, 'Every tile recorded before is kept; this one is left out by name.', 'Report it with the log.'] },
};
