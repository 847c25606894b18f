import { randomStream } from '../random.ts';
import type { RenderedFrame } from './renderFrame.ts';

/** The tear lies so far from the upper and the lower edge, as a share of the height. */
const LEAST_SHARE = 0.2;

/** A frame whose lower rows were never written over: they are still those of the frame before. The key chooses the row. */
export function tornFrame(frame: RenderedFrame, before: RenderedFrame, key: string): RenderedFrame {
  const { widthPx, heightPx } = frame;
  const row = Math.round(heightPx * randomStream(0, key, 'tear').between(LEAST_SHARE, 1 - LEAST_SHARE));
  const data = frame.data.slice();
  const from = (row * widthPx * data.length) / (widthPx * heightPx);
  data.set(before.data.subarray(from), from);
  return { ...frame, data };
}
