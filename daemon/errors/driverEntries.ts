import type { DriverDetails, EntriesFor, ErrorEntry, ExitCode } from './codes.ts';
import type { ErrorDetails } from '../../drivers/interfaces/index.ts';
import { particulars } from './words.ts';

const KEPT = 'Everything recorded so far is kept.';

function entry(happened: string, next: string, kept = KEPT, exit: ExitCode = 1): ErrorEntry<ErrorDetails> {
  return { exit, say: (details) => [`${happened}${particulars(details)}.`, kept, next] };
}

const NOT_MOVED = 'The move was not begun.';
const NOTHING_SENT = 'Nothing was sent.';
const NOTHING_MOVED = 'Nothing has moved.';

/** What the devices and the safety gate refuse or fail at. */
export const driverEntries: EntriesFor<DriverDetails> = {
  timeout: entry('A device did not answer in time', 'Look at its power and cable, then try again.'),
  disconnected: entry('A device is no longer connected', 'Look at its cable and power, then open the instrument again.'),
  badReply: entry('A device gave an answer that cannot be read', 'Try again; if it comes back, look at the cable and at the baud rate.'),
  stalled: entry('An axis stopped short of its target', 'Look for what is in its way, then home the axis or check the reference mark.'),
  limit: entry('A move would go beyond a limit', 'Choose a target inside the limits, or correct `limits` in instrument.yaml.', NOT_MOVED),
  unsafeHeight: entry('The objective is too low for so long a move', 'Raise the objective to the safe height first.', NOT_MOVED),
  tooFast: entry('A move was asked for that is too fast so close to the chip', 'Ask for a lower speed, or raise the objective first.', NOT_MOVED),
  lampLimit: entry('More light was asked for than the limit allows', 'Ask for less, or correct `maxLampIntensity` in instrument.yaml.', 'The lamp was left as it was.'),
  exposureRange: entry('The camera cannot expose for that long or that short', 'Choose an exposure inside its range.', 'The camera was left as it was.'),
  unsupported: entry('The device cannot do what was asked', 'Change the setting that asks for it.', 'Nothing was changed.'),
  positionLost: entry('An axis does not know where it is', 'Look that the objective is clear of the chips, then run `nightjar home`; nothing moves until then.'),
  noFrame: entry('The camera gave no frame', 'Look at the camera\'s cable and power, then try again.'),
  badFrame: entry('The camera gave a frame that is torn, repeated or of the wrong size', 'Try again; if it comes back, look at the camera\'s cable.', 'The frame was not used.'),
  stopped: entry('The movement was stopped on request', 'Go on when the way is clear.', KEPT, 130),
  closed: entry('What was asked has been closed already', 'Start it again.'),
  noSuchLine: entry('There is no such line to a device', 'See what is there with `nightjar instruments`, and correct the line in instrument.yaml.', NOTHING_SENT, 2),
  lineBusy: entry('Another program has the line to a device open', 'End the other program (`nightjar doctor` names it where it can), then try again.', NOTHING_SENT),
  noAccess: entry('This user may not open the line to a device', 'Run `nightjar doctor`: it says which group is needed and how to join it.', NOTHING_SENT),
  noAnswer: entry('The line is open, but the device says nothing', 'Look at the device\'s power and cable, at the port and at the baud rate in instrument.yaml.', NOTHING_MOVED),
  garbled: entry('What the device sends cannot be read as text', 'This is most often the wrong baud rate: correct `baudRate` in instrument.yaml; else look at the cable.', NOTHING_MOVED),
  wrongDevice: entry('Another kind of device answers on this line', 'See what is there with `nightjar instruments`, and correct the line or the driver in instrument.yaml.', NOTHING_MOVED),
  deviceError: entry('The device refused a command', 'Look up its error in the manual of the device.', KEPT),
  alarm: entry('The controller stands in alarm', 'Look at the stage, see that nothing is in its way, then home it.'),
  settingsDiffer: entry('What a device says of itself is not what the instrument file says', 'Correct whichever of the two is wrong: other steps per mm lead to wrong places, another picture to wrong measures.', NOTHING_MOVED, 2),
  libraryMissing: entry('A library that this camera needs is not installed', 'Run `nightjar doctor`: it says what to install.', 'Nothing was started.'),
  noSuchCamera: entry('The camera was not found', 'Look at its power, cable and network; `nightjar instruments` lists the cameras that are found.', 'Nothing was started.'),
  cameraBusy: entry('Another program may be controlling this camera', 'End the other program, or wait a few seconds if one has just ended, then try again.', 'The camera was left as it was.'),
  formatNotOffered: entry('The camera does not offer this pixel format', 'Choose one that it offers for `pixelFormat` in instrument.yaml.', 'The camera was left as it was.', 2),
  notForcedOff: entry('The camera changes its pictures by itself, and this cannot be switched off', 'Switch it off with the camera maker\'s own program; until then contrast is not to be trusted.'),
  pipeEnded: entry('The command that should give frames has ended', 'Run the command by hand and look at what it says.'),
  missingFile: entry('A picture is missing from the frame set', 'Put the file back, or take its entry out of frame-set.json.', 'The other frames can be used.', 2),
  brokenFile: entry('A picture of the frame set cannot be read', 'Copy it again from where it came from.', 'The other frames can be used.', 2),
};
