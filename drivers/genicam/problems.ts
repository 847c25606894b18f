import { DriverError, type DriverErrorCode, type ErrorDetails } from '../interfaces/index.ts';
import { LibraryError } from './fallible.ts';

/** A DriverError on its way from the worker to the main thread. */
export interface Problem {
  readonly code: DriverErrorCode;
  readonly details: ErrorDetails;
}

/** What the library says once the camera is open, in our codes; `isAnswering` tells a camera that refuses from one that is gone. */
export function asDriverError(error: unknown, isAnswering: () => boolean): DriverError {
  if (error instanceof DriverError) return error;
  if (!(error instanceof LibraryError)) return new DriverError('deviceError', { device: 'camera', message: String(error) }, { cause: error });
  const details = { device: 'camera', call: error.call, message: error.message };
  if (error.problem === 'notController') return new DriverError('cameraBusy', details, { cause: error });
  if (error.problem === 'other') return new DriverError('deviceError', details, { cause: error });
  // Reads work and writes time out: somebody else has the right to write.
  const isBusy = error.problem === 'timeout' && isAnswering();
  return new DriverError(isBusy ? 'cameraBusy' : 'disconnected', details, { cause: error });
}

export function toProblem(error: DriverError): Problem {
  return { code: error.code, details: error.details };
}

export function fromProblem({ code, details }: Problem): DriverError {
  return new DriverError(code, details);
}
