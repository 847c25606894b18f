import type { CameraFrame } from '../../drivers/interfaces/index.ts';
import type { GreyPicture } from '../../planner/frames/greyPicture.ts';

/** The middle channel of a colour frame, the only one of a grey frame. */
export function greyPicture({ data, widthPx, heightPx }: CameraFrame): GreyPicture & { readonly data: Float32Array } {
  const pixels = widthPx * heightPx;
  const channels = data.length / pixels;
  const grey = new Float32Array(pixels);
  for (let i = 0, at = channels >> 1; i < pixels; i++, at += channels) grey[i] = data[at] as number;
  return { widthPx, heightPx, data: grey };
}
