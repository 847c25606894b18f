import type { DriverDetails, EntriesFor, ErrorEntry, ExitCode } from './codes.ts';
import type { ErrorDetails } from '../../drivers/interfaces/index.ts';
import { particulars } from './words.ts';

const KEPT = 'Everything recorded so far is kept.';

function entry(happened: string, next: string, kept = KEPT, exit: ExitCode = 1): ErrorEntry<ErrorDetails> {
  return { exit, say: (details) => [`${happened}${particulars(details)}.`, kept, next] };
}

const NOT_MOVED = 'The move was not begun.';

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
  positionLost: entry('The stage no longer knows where it is', 'Home the stage, or find two reference marks; nothing moves until then.'),
  noFrame: entry('The camera gave no frame', 'Look at the camera\'s cable and power, then try again.'),
  badFrame: entry('The camera gave a frame that is torn, repeated or of the wrong size', 'Try again; if it comes back, look at the camera\'s cable.', 'The frame was not used.'),
  stopped: entry('The movement was stopped on request', 'Go on when the way is clear.', KEPT, 130),
  closed: entry('What was asked has been closed already', 'Start it again.'),
  missingFile: entry('A picture is missing from the frame set', 'Put the file back, or take its entry out of frame-set.json.', 'The other frames can be used.', 2),
  brokenFile: entry('A picture of the frame set cannot be read', 'Copy it again from where it came from.', 'The other frames can be used.', 2),
};
