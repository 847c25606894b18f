import { DriverError, type CameraFrame, type PixelFormat, type Region } from '../interfaces/index.ts';
import { formatOfPart } from './bayer.ts';

/** Samples per pixel as they lie in a frame's data. */
export function samplesPerPixel(format: PixelFormat): number {
  return format === 'rgb8' || format === 'rgb16' ? 3 : 1;
}

/** The part of a frame inside the region, as a frame of its own. Throws `badFrame` when the frame does not reach that far. */
export function cropFrame(frame: CameraFrame, region: Region): CameraFrame {
  const { colPx, rowPx, widthPx, heightPx } = region;
  if (colPx + widthPx > frame.widthPx || rowPx + heightPx > frame.heightPx) {
    throw new DriverError('badFrame', { widthPx: frame.widthPx, heightPx: frame.heightPx, wantedWidthPx: colPx + widthPx, wantedHeightPx: rowPx + heightPx });
  }
  const samples = samplesPerPixel(frame.pixelFormat);
  const length = widthPx * heightPx * samples;
  const data = frame.data instanceof Uint8Array ? new Uint8Array(length) : new Uint16Array(length);
  for (let row = 0; row < heightPx; row++) {
    const from = ((rowPx + row) * frame.widthPx + colPx) * samples;
    data.set(frame.data.subarray(from, from + widthPx * samples), row * widthPx * samples);
  }
  return { ...frame, widthPx, heightPx, pixelFormat: formatOfPart(frame.pixelFormat, region), data };
}
