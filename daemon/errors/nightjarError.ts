import type { NightjarDetails, NightjarErrorCode } from './codes.ts';

/**
 * The one error type of the daemon: a code that callers act on, and the numbers and names that belong to it. What a person
 * reads is made from both by `sentenceFor`; the message of the error itself is for the log only.
 */
export class NightjarError<C extends NightjarErrorCode = NightjarErrorCode> extends Error {
  readonly code: C;
  readonly details: NightjarDetails[C];

  constructor(code: C, details: NightjarDetails[C], options?: ErrorOptions) {
    super(`${code} ${JSON.stringify(details)}`, options);
    this.name = 'NightjarError';
    this.code = code;
    this.details = details;
  }
}

/** True for any error of the daemon's own. */
export function isNightjarError(error: unknown): error is NightjarError {
  return error instanceof NightjarError;
}

/** True for an error of the daemon's own with this code; its details are then known to the compiler. */
export function hasCode<C extends NightjarErrorCode>(error: unknown, code: C): error is NightjarError<C> {
  return isNightjarError(error) && error.code === code;
}
