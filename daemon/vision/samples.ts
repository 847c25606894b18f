import { bayerPattern } from '../../drivers/frames/bayer.ts';
import type { BayerPattern, CameraFrame } from '../../drivers/interfaces/index.ts';
import type { FramePose, Matrix2 } from '../../planner/units/index.ts';
import { VisionError } from './errors.ts';
import { fullFrom } from './fullScale.ts';
import { withoutMasked } from './masked.ts';
import type { Masked } from './masked.ts';

/** A frame as the pixel passes read it: interleaved samples, one or three channels. */
export interface Samples {
  readonly widthPx: number;
  readonly heightPx: number;
  readonly channels: 1 | 3;
  readonly data: Uint8Array | Uint16Array | Uint32Array;
  /** The sample that stands for a full pixel, 1 in linear light. */
  readonly fullScale: number;
  /** Samples from here on are saturated: the full scale, or less where the camera's own end lies lower. */
  readonly saturatedFrom: number;
  /** Pixels of the camera along one side of a sample: 2 for a colour-filter mosaic, whose cells are measured whole. */
  readonly binning: 1 | 2;
  /** The samples that were not used, where there are any. */
  readonly masked?: Masked;
}

/** Offsets of red, both greens and blue within a cell of 2x2, as column and row. */
const SITES: Record<BayerPattern, readonly (readonly [number, number])[]> = {
  RG: [[0, 0], [1, 0], [0, 1], [1, 1]],
  GR: [[1, 0], [0, 0], [1, 1], [0, 1]],
  GB: [[0, 1], [0, 0], [1, 1], [1, 0]],
  BG: [[1, 1], [1, 0], [0, 1], [0, 0]],
};

/**
 * The samples of a frame. A colour-filter mosaic is turned into cells of 2x2 pixels: red, mean of the two greens, blue, none of them
 * interpolated.
 * @param masked samples that must not be used, as indices of the result's data: each is given the mean of its neighbours
 * @throws VisionError `wrongLength` when the data do not fill the frame, `unsupportedFormat` for bits outside 8 to 16.
 */
export function samplesOf(frame: CameraFrame, masked?: Int32Array): Samples {
  const { widthPx, heightPx, bits, data, pixelFormat } = frame;
  if (bits < 8 || bits > 16) throw new VisionError('unsupportedFormat', { pixelFormat, bits });
  const channels = pixelFormat === 'rgb8' || pixelFormat === 'rgb16' ? 3 : 1;
  const expected = widthPx * heightPx * channels;
  if (data.length !== expected) throw new VisionError('wrongLength', { pixelFormat, expected, found: data.length });
  const fullScale = 2 ** bits - 1;
  const saturatedFrom = fullFrom(data, fullScale);
  const pattern = bayerPattern(pixelFormat);
  const samples: Samples = pattern ? cellsOf(frame, pattern, fullScale, saturatedFrom) : { widthPx, heightPx, channels, data, fullScale, saturatedFrom, binning: 1 };
  return masked && masked.length > 0 ? { ...samples, ...withoutMasked(samples.data, samples, masked) } : samples;
}

/**
 * Mosaic to cells, at twice the camera's numbers, so that the mean of two greens is a whole number too. A cell is saturated when one of
 * its greens is, so the larger green then stands for both.
 */
function cellsOf(frame: CameraFrame, pattern: BayerPattern, fullScale: number, saturatedFrom: number): Samples {
  const [widthPx, heightPx] = [frame.widthPx >> 1, frame.heightPx >> 1];
  const data = fullScale > 32767 ? new Uint32Array(widthPx * heightPx * 3) : new Uint16Array(widthPx * heightPx * 3);
  const from = frame.data;
  const [red = 0, greenA = 0, greenB = 0, blue = 0] = SITES[pattern].map(([col, row]) => row * frame.widthPx + col);
  let at = 0;
  for (let row = 0; row < heightPx; row++) {
    let corner = 2 * row * frame.widthPx;
    for (let col = 0; col < widthPx; col++, corner += 2) {
      const one = from[corner + greenA] as number;
      const other = from[corner + greenB] as number;
      const larger = Math.max(one, other);
      data[at++] = 2 * (from[corner + red] as number);
      data[at++] = larger >= saturatedFrom ? 2 * larger : one + other;
      data[at++] = 2 * (from[corner + blue] as number);
    }
  }
  return { widthPx, heightPx, channels: 3, data, fullScale: 2 * fullScale, saturatedFrom: 2 * saturatedFrom, binning: 2 };
}

/** The pose of the samples: that of the frame, with the pixels of a mosaic's cells; an odd last column or row is in no cell. */
export function poseOfSamples(pose: FramePose, samples: Pick<Samples, 'widthPx' | 'heightPx' | 'binning'>): FramePose {
  if (samples.binning === 1) return pose;
  const m = pose.cameraToStageUm;
  const scaled: Matrix2 = [2 * m[0], 2 * m[1], 2 * m[2], 2 * m[3]];
  const [left, above] = [samples.widthPx - pose.widthPx / 2, samples.heightPx - pose.heightPx / 2];
  const centreUm = { xUm: pose.centreUm.xUm + m[0] * left + m[1] * above, yUm: pose.centreUm.yUm + m[2] * left + m[3] * above };
  return { centreUm, cameraToStageUm: scaled, widthPx: samples.widthPx, heightPx: samples.heightPx };
}
