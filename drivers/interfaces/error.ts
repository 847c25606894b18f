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
