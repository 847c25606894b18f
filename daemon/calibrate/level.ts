import type { CameraFrame } from '../../drivers/interfaces/index.ts';
import type { GreyPicture } from '../../planner/frames/greyPicture.ts';

/** What stands still on the sensor, pixel by pixel: uneven light, dust, hot and dead samples. */
export type Level = Float32Array;

/** The median over frames at different places: what is on the chip moves, what is on the sensor stays. */
export function levelOf(frames: readonly CameraFrame[]): Level {
  const [first] = frames;
  if (!first) throw new RangeError('level of no frames');
  const greys = frames.map(greyOf);
  const values = new Float64Array(frames.length);
  return Float32Array.from({ length: first.widthPx * first.heightPx }, (_, i) => {
    greys.forEach((grey, n) => (values[n] = grey[i] as number));
    return values.sort()[values.length >> 1] as number;
  });
}

/** One channel of a frame over the level, 1 where it is as usual; as it is without a level. */
export function levelled(frame: CameraFrame, level?: Level): GreyPicture {
  const grey = greyOf(frame);
  const { widthPx, heightPx } = frame;
  if (!level) return { widthPx, heightPx, data: grey };
  const usual = level.reduce((sum, value) => sum + value, 0) / level.length;
  // A sample that gives nothing, or far too much, tells nothing of the chip.
  return { widthPx, heightPx, data: grey.map((value, i) => ((level[i] as number) > usual / 4 && (level[i] as number) < 3 * usual ? value / (level[i] as number) : 1)) };
}

/** The middle channel of a colour frame, the only one of a grey frame. */
function greyOf({ data, widthPx, heightPx }: CameraFrame): Float32Array {
  const pixels = widthPx * heightPx;
  const channels = data.length / pixels;
  const grey = new Float32Array(pixels);
  for (let i = 0, at = channels >> 1; i < pixels; i++, at += channels) grey[i] = data[at] as number;
  return grey;
}
