import { DriverError } from '../interfaces/index.ts';

/** Why an exchange was cut off: a stop had to go out, or the device forgot where it is. Never leaves the dialogue. */
export class Interruption extends Error {
  readonly code: 'stopped' | 'positionLost';

  constructor(code: 'stopped' | 'positionLost') {
    super(code);
    this.name = 'Interruption';
    this.code = code;
  }
}

/** Silence and noise may be over at the next try; a refusal or a lost line will not. */
export function isWorthRepeating(error: unknown): boolean {
  return error instanceof DriverError && (error.code === 'timeout' || error.code === 'badReply');
}
