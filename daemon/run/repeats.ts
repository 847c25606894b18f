import { DriverError, type Camera, type CameraFrame } from '../../drivers/interfaces/index.ts';

/** So many samples, spread over a frame, tell it from any other; a look at all would make the stage wait. */
const SAMPLES = 4096;
/** Less of a frame than this share, at its top or bottom, may be like the one before by chance. */
const LEAST_SHARED = 0.05;
/** What is shared must be alive with noise or picture: so many samples in it, as a share of all, are unlike the one beside them. */
const LEAST_LIVELY = 0.02;

/**
 * Tells which of a camera's frames are the frame before once more, or in part, whatever that was taken for: a tile must not be given the last
 * focus frame of another place, nor half of it. Every frame of a camera is new, down to its noise; only stored ones may come again.
 */
export class Repeats {
  private before: Float32Array | undefined;
  private readonly spoilt = new WeakMap<CameraFrame, string>();

  /** The camera, each of whose frames is compared with the one before. */
  watch(raw: Camera): Camera {
    return {
      info: raw.info,
      configure: (settings) => raw.configure(settings),
      snap: async (signal, onExposed) => this.noted(await raw.snap(signal, onExposed)),
      close: () => raw.close(),
    };
  }

  /** Throws `badFrame` for a frame that is the one before once more, or in part. */
  requireNew(frame: CameraFrame): void {
    const what = this.spoilt.get(frame);
    if (what !== undefined) throw new DriverError('badFrame', { device: 'camera', what });
  }

  private noted(frame: CameraFrame): CameraFrame {
    const samples = spread(frame);
    const what = this.before && whatIsShared(samples, this.before);
    if (what !== undefined) this.spoilt.set(frame, what);
    this.before = samples;
    return frame;
  }
}

/** What a frame has of the one before, in words; undefined where all is new. */
function whatIsShared(now: Float32Array, before: Float32Array): string | undefined {
  if (now.length !== before.length) return undefined;
  let [top, bottom] = [0, now.length];
  while (top < now.length && now[top] === before[top]) top++;
  if (top === now.length) return 'the frame before once more';
  while (now[bottom - 1] === before[bottom - 1]) bottom--;
  return [now.subarray(0, top), now.subarray(bottom)].some((part) => isTelling(part, now.length)) ? 'part of it from the frame before' : undefined;
}

/** Whether a part is large enough, and more than an even dark. */
function isTelling(part: Float32Array, all: number): boolean {
  if (part.length < LEAST_SHARED * all) return false;
  let lively = 0;
  for (let i = 1; i < part.length; i++) if (part[i] !== part[i - 1]) lively++;
  return lively >= LEAST_LIVELY * all;
}

/** Samples of a frame at even distances, an odd one so that every channel and column comes in. */
export function spread({ data }: CameraFrame): Float32Array {
  const step = Math.max(1, Math.floor(data.length / SAMPLES)) | 1;
  const samples = new Float32Array(Math.ceil(data.length / step));
  for (let i = 0, at = 0; at < data.length; i++, at += step) samples[i] = data[at] as number;
  return samples;
}
