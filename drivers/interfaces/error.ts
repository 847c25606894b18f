/** What can be wrong with a line before, or while, something is said on it. */
export type LineErrorCode =
  /** No port of this name, or nobody listens at this address. */
  | 'noSuchLine'
  /** Another program has it open. */
  | 'lineBusy'
  /** The computer does not let this user open it. */
  | 'noAccess'
  /** It is open, and nothing is ever heard. */
  | 'noAnswer'
  /** Bytes came that are no text: most often the baud rate. */
  | 'garbled'
  /** Somebody answers, in words that this device would not use. */
  | 'wrongDevice'
  /** The device refused a command by an error of its own. */
  | 'deviceError'
  /** The controller stands in alarm and will not move before it is homed or unlocked. */
  | 'alarm'
  /** The controller's own settings are not those of the instrument file. */
  | 'settingsDiffer';

/** What can be wrong with a camera beyond its frames. */
export type CameraErrorCode =
  | 'libraryMissing'
  | 'noSuchCamera'
  /** Another program holds it. */
  | 'cameraBusy'
  | 'formatNotOffered'
  /** An automatic, or a change that the camera makes to its pictures, cannot be switched off. */
  | 'notForcedOff'
  /** The command whose output should be frames has ended. */
  | 'pipeEnded';

/** What went wrong with a device, as a code that callers act on; the sentence for people is made by the daemon's error table. */
export type DriverErrorCode =
  | 'timeout'
  | 'disconnected'
  | 'badReply'
  | 'stalled'
  | 'limit'
  | 'unsafeHeight'
  | 'tooFast'
  | 'lampLimit'
  | 'exposureRange'
  | 'unsupported'
  | 'positionLost'
  | 'noFrame'
  | 'badFrame'
  | 'stopped'
  | 'closed'
  | LineErrorCode
  | CameraErrorCode
  | 'missingFile'
  | 'brokenFile';

/** Numbers and names that belong to an error: the axis, what was asked, what was found, the limit. */
export type ErrorDetails = Readonly<Record<string, number | string>>;

/** The one error type that drivers, simulators and the safety gate throw. Look at `code`, never at the message. */
export class DriverError extends Error {
  readonly code: DriverErrorCode;
  readonly details: ErrorDetails;

  constructor(code: DriverErrorCode, details: ErrorDetails = {}, options?: ErrorOptions) {
    super(`${code} ${JSON.stringify(details)}`, options);
    this.name = 'DriverError';
    this.code = code;
    this.details = details;
  }
}
