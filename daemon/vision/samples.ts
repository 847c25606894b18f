import type { CameraFrame } from '../../drivers/interfaces/index.ts';
import type { FramePose, Matrix2 } from '../../planner/units/index.ts';
import { VisionError } from './errors.ts';

/** A frame as the pixel passes read it: interleaved samples, one or three channels. */
export interface Samples {
  readonly widthPx: number;
  readonly heightPx: number;
  readonly channels: 1 | 3;
  readonly data: Uint8Array | Uint16Array;
  /** The largest sample the camera can give: 2^bits - 1. */
  readonly fullScale: number;
  /** Pixels of the camera along one side of a sample: 2 for a colour-filter mosaic, whose cells are measured whole. */
  readonly binning: 1 | 2;
}

const CHANNELS = { mono8: 1, mono16: 1, rgb8: 3, rgb16: 3, bayerRG8: 1, bayerRG16: 1 } as const;

/**
 * The samples of a frame. A colour-filter mosaic (RG over GB) is turned into cells of 2x2 pixels: red, mean of the two greens,
 * blue, none of them interpolated.
 * @throws VisionError `wrongLength` when the data do not fill the frame, `unsupportedFormat` for bits outside 8 to 16.
 */
export function samplesOf(frame: CameraFrame): Samples {
  const { widthPx, heightPx, bits, data, pixelFormat } = frame;
  if (bits < 8 || bits > 16) throw new VisionError('unsupportedFormat', { pixelFormat, bits });
  const expected = widthPx * heightPx * CHANNELS[pixelFormat];
  if (data.length !== expected) throw new VisionError('wrongLength', { pixelFormat, expected, found: data.length });
  const fullScale = 2 ** bits - 1;
  if (pixelFormat === 'bayerRG8' || pixelFormat === 'bayerRG16') return cellsOf(frame, fullScale);
  const channels = pixelFormat === 'rgb8' || pixelFormat === 'rgb16' ? 3 : 1;
  return { widthPx, heightPx, channels, data, fullScale, binning: 1 };
}

/** Mosaic to cells. A cell is saturated when one of its greens is, so the larger green then stands for both. */
function cellsOf(frame: CameraFrame, fullScale: number): Samples {
  const widthPx = frame.widthPx >> 1;
  const heightPx = frame.heightPx >> 1;
  const data = new Uint16Array(widthPx * heightPx * 3);
  const from = frame.data;
  let at = 0;
  for (let row = 0; row < heightPx; row++) {
    let upper = 2 * row * frame.widthPx;
    for (let col = 0; col < widthPx; col++, upper += 2) {
      const lower = upper + frame.widthPx;
      const greenA = from[upper + 1] as number;
      const greenB = from[lower] as number;
      const larger = Math.max(greenA, greenB);
      data[at++] = from[upper] as number;
      data[at++] = larger >= fullScale ? larger : (greenA + greenB + 1) >> 1;
      data[at++] = from[lower + 1] as number;
    }
  }
  return { widthPx, heightPx, channels: 3, data, fullScale, binning: 2 };
}

/** The pose of the samples: that of the frame, with the pixels of a mosaic's cells. */
export function poseOfSamples(pose: FramePose, samples: Samples): FramePose {
  if (samples.binning === 1) return pose;
  const m = pose.cameraToStageUm;
  const scaled: Matrix2 = [2 * m[0], 2 * m[1], 2 * m[2], 2 * m[3]];
  return { centreUm: pose.centreUm, cameraToStageUm: scaled, widthPx: samples.widthPx, heightPx: samples.heightPx };
}
