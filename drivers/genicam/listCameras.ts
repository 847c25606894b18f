import { DriverError, type Clock } from '../interfaces/index.ts';
import { CameraWorker } from './cameraWorker.ts';
import { LIBRARY, type FoundCamera } from './messages.ts';

/** Discovery itself takes a second. */
const LIMIT_MS = 15_000;
const CLOSE_LIMIT_MS = 2000;

export type CameraList =
  | { readonly kind: 'cameras'; readonly cameras: readonly FoundCamera[] }
  | { readonly kind: 'libraryMissing'; readonly library: string; readonly debianPackage: string }
  | { readonly kind: 'failed'; readonly error: DriverError };

function asFailure(error: unknown, library: string): CameraList {
  if (!(error instanceof DriverError)) return { kind: 'failed', error: new DriverError('deviceError', { device: 'camera', message: String(error) }, { cause: error }) };
  if (error.code !== 'libraryMissing') return { kind: 'failed', error };
  return { kind: 'libraryMissing', library, debianPackage: String(error.details.debianPackage) };
}

/** The GigE Vision and USB3 Vision cameras that answer now, after about a second, at most 15. Never rejects. */
export async function listCameras(clock: Clock, library: string = LIBRARY): Promise<CameraList> {
  let worker: CameraWorker | undefined;
  try {
    worker = new CameraWorker(clock);
    const found = await worker.ask({ kind: 'list', library }, { limitMs: LIMIT_MS });
    return { kind: 'cameras', cameras: found.kind === 'list' ? found.cameras : [] };
  } catch (error) {
    return asFailure(error, library);
  } finally {
    await worker?.close(CLOSE_LIMIT_MS);
  }
}
