import type { CameraFrame } from '../../drivers/interfaces/index.ts';
import type { GreyPicture } from '../../planner/frames/greyPicture.ts';
import { greyPicture } from '../vision/greyPicture.ts';

/** What stands still on the sensor, pixel by pixel: uneven light, dust, hot and dead samples. */
export type Level = Float32Array;

/** The median over frames at different places: what is on the chip moves, what is on the sensor stays. */
export function levelOf(frames: readonly CameraFrame[]): Level {
  const [first] = frames;
  if (!first) throw new RangeError('level of no frames');
  const greys = frames.map((frame) => greyPicture(frame).data);
  const values = new Float64Array(frames.length);
  return Float32Array.from({ length: first.widthPx * first.heightPx }, (_, i) => {
    greys.forEach((grey, n) => (values[n] = grey[i] as number));
    return values.sort()[values.length >> 1] as number;
  });
}

/** One channel of a frame over the level, 1 where it is as usual; as it is without a level. */
export function levelled(frame: CameraFrame, level?: Level): GreyPicture {
  const grey = greyPicture(frame);
  if (!level) return grey;
  const usual = level.reduce((sum, value) => sum + value, 0) / level.length;
  // A sample that gives nothing, or far too much, tells nothing of the chip.
  return { ...grey, data: grey.data.map((value, i) => ((level[i] as number) > usual / 4 && (level[i] as number) < 3 * usual ? value / (level[i] as number) : 1)) };
}
