import { DriverError, type Camera, type CameraFrame } from '../../drivers/interfaces/index.ts';

/** So many samples, spread over a frame, tell it from any other; a look at all would make the stage wait. */
const SAMPLES = 4096;

/**
 * Tells which of a camera's frames are the frame before once more, whatever that was taken for: a tile must not be given the last focus frame
 * of another place. Every frame of a camera is new, down to its noise; only stored ones may come again.
 */
export class Repeats {
  private before: Float32Array | undefined;
  private readonly repeated = new WeakSet<CameraFrame>();

  /** The camera, each of whose frames is compared with the one before. */
  watch(raw: Camera): Camera {
    return {
      info: raw.info,
      configure: (settings) => raw.configure(settings),
      snap: async (signal, onExposed) => this.noted(await raw.snap(signal, onExposed)),
      close: () => raw.close(),
    };
  }

  /** Throws `badFrame` for a frame that is the one before once more. */
  requireNew(frame: CameraFrame): void {
    if (this.repeated.has(frame)) throw new DriverError('badFrame', { device: 'camera', what: 'the frame before once more' });
  }

  private noted(frame: CameraFrame): CameraFrame {
    const samples = spread(frame);
    if (this.before && isSame(samples, this.before)) this.repeated.add(frame);
    this.before = samples;
    return frame;
  }
}

/** Samples of a frame at even distances, an odd one so that every channel and column comes in. */
export function spread({ data }: CameraFrame): Float32Array {
  const step = Math.max(1, Math.floor(data.length / SAMPLES)) | 1;
  const samples = new Float32Array(Math.ceil(data.length / step));
  for (let i = 0, at = 0; at < data.length; i++, at += step) samples[i] = data[at] as number;
  return samples;
}

function isSame(a: Float32Array, b: Float32Array): boolean {
  return a.length === b.length && a.every((sample, i) => sample === b[i]);
}
