import type { Camera, CameraFrame } from '../../drivers/interfaces/index.ts';

/**
 * Takes a frame and begins something else as soon as its exposure is over, while it is read out. Resolves when both are done; when the
 * frame fails, what was begun is waited for all the same, so that nothing moves unobserved.
 */
export async function snapThen<T>(camera: Camera, next: () => Promise<T>, signal: AbortSignal): Promise<{ readonly frame: CameraFrame; readonly then: T }> {
  let begun: Promise<T> | undefined;
  const begin = (): Promise<T> => {
    if (!begun) {
      begun = next();
      begun.catch(() => undefined);
    }
    return begun;
  };
  try {
    const frame = await camera.snap(signal, () => void begin());
    return { frame, then: await begin() };
  } catch (error) {
    await begun?.catch(() => undefined);
    throw error;
  }
}
