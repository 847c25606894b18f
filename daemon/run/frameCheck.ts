import type { CameraFrame } from '../../drivers/interfaces/index.ts';
import { NightjarError } from '../errors/index.ts';
import { BLACK } from '../vision/cells.ts';
import { linearTable } from '../vision/linearise.ts';
import { lowQuantile } from '../vision/statistics.ts';
import { spread } from './repeats.ts';

/** The brightest tenth of strips says whether it is black, as with the classifier; so many samples make the mean of a strip, without their noise. */
const BRIGHTEST = 0.9;
const STRIP = 32;
/** More than this share at full scale: full. */
const FULL = 0.5;
/** A frame that stays black or full is taken for what is there after so many tries more. */
const TRIES_MORE = 2;

export interface FrameCheckOptions {
  readonly transfer: 'linear' | 'srgb';
  /** Throws `badFrame` for a frame that the camera has given before. */
  readonly requireNew: (frame: CameraFrame) => void;
  /** What the camera gives without light, linear, 0 to 1 of full scale, as far as it is known by now. */
  readonly darkLevel: () => number;
}

/** Looks at each tile's frame while the tile can still be taken again. */
export class FrameCheck {
  private readonly options: FrameCheckOptions;
  private tile = -1;
  private tries = 0;

  constructor(options: FrameCheckOptions) {
    this.options = options;
  }

  /**
   * Throws `badFrame` for a frame that is the last one once more, and, twice at most for one tile, `blackFrame` or `fullFrame`: a lamp that
   * flickers, a shutter that sticks. What stays so may be what is there, and the classifier says so of it.
   */
  require(tile: number, frame: CameraFrame): void {
    const light = this.lightOf(frame);
    if (light === undefined) this.requireNew(frame);
    else if (this.triesAt(tile) <= TRIES_MORE) throw new NightjarError(light, { tile });
  }

  /** Throws `badFrame` for a frame that is the one before once more. */
  requireNew(frame: CameraFrame): void {
    this.options.requireNew(frame);
  }

  /** Whether a frame shows anything of the sample: it is neither black nor full. */
  isLit(frame: CameraFrame): boolean {
    return this.lightOf(frame) === undefined;
  }

  private triesAt(tile: number): number {
    this.tries = tile === this.tile ? this.tries + 1 : 1;
    this.tile = tile;
    return this.tries;
  }

  private lightOf(frame: CameraFrame): 'blackFrame' | 'fullFrame' | undefined {
    const samples = spread(frame);
    const fullScale = 2 ** frame.bits - 1;
    const full = samples.reduce((count, sample) => count + (sample >= fullScale ? 1 : 0), 0);
    if (full > FULL * samples.length) return 'fullFrame';
    const linear = linearTable(this.options.transfer, fullScale);
    const bright = lowQuantile(strips(samples, (sample) => linear[sample] ?? 1), BRIGHTEST);
    return bright - this.options.darkLevel() < BLACK ? 'blackFrame' : undefined;
  }
}

/** Means of neighbouring samples, in linear light. */
function strips(samples: Float32Array, linear: (sample: number) => number): Float32Array {
  return Float32Array.from({ length: Math.ceil(samples.length / STRIP) }, (_, i) => {
    const strip = samples.subarray(i * STRIP, (i + 1) * STRIP);
    return strip.reduce((sum, sample) => sum + linear(sample), 0) / strip.length;
  });
}
