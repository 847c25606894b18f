import type { Matrix2 } from '../../planner/units/index.ts';
import { randomStream } from '../random.ts';

/** The simulated camera's fixed properties. */
export interface CameraModel {
  readonly widthPx: number;
  readonly heightPx: number;
  readonly bits: number;
  readonly transfer: 'linear' | 'srgb';
}

/** One objective as it sits in the turret. */
export interface SimulatedObjective {
  readonly magnification: number;
  readonly numericalAperture: number;
  /** um of the stage per pixel; see `FramePose`. */
  readonly cameraToStageUm: Matrix2;
  /** Where the chips are in focus with it, above the first objective's height. */
  readonly parfocalUm?: number;
  /** Where its picture's centre lies on the stage, from the stage's position. */
  readonly parcentricXUm?: number;
  readonly parcentricYUm?: number;
}

/** Exposure times lamp intensity at which a perfect mirror would just fill the first objective's pixels, in ms. */
export const MIRROR_FILLS_AT_MS = 2.6;
/** Electrons in a full pixel: sets the shot noise. */
export const FULL_WELL = 11_000;
/** Read noise in electrons. */
export const READ_NOISE = 9;
/** Offset of the camera's zero, as a share of full scale; each sample has its own, a little off. */
export const DARK_LEVEL = 0.004;
/** Spread of the samples' zeros, and of whole rows', as a share of full scale. */
const PATTERN = 0.0008;
/** One sample in so many is hot: bright without light. */
const HOT_EVERY = 40_000;
/** One sample in so many is dead. */
const DEAD_EVERY = 100_000;

/** Relative light over the sensor, interleaved RGB: vignetting, tilted light, a colour cast, and dust on the sensor's window. */
export function sensorField(seed: number, { widthPx, heightPx }: CameraModel): Float32Array {
  const random = randomStream(seed, 'camera', 'field');
  const field = new Float32Array(widthPx * heightPx * 3);
  const vignette = random.between(0.05, 0.12);
  const shades = Array.from({ length: 3 }, () => ({
    right: random.between(-0.03, 0.03),
    down: random.between(-0.03, 0.03),
    round: vignette * random.between(0.85, 1.15),
  }));
  const half = Math.hypot(widthPx, heightPx) / 2;
  for (let row = 0, i = 0; row < heightPx; row++) {
    const v = (row + 0.5 - heightPx / 2) / half;
    for (let column = 0; column < widthPx; column++) {
      const u = (column + 0.5 - widthPx / 2) / half;
      for (const { right, down, round } of shades) field[i++] = 1 + right * u + down * v - round * (u * u + v * v);
    }
  }
  const specks = 4 + random.below(5);
  for (let speck = 0; speck < specks; speck++) {
    const radiusPx = half * random.between(0.006, 0.016);
    darken(field, widthPx, heightPx, random.next() * widthPx, random.next() * heightPx, radiusPx, random.between(0.02, 0.06));
  }
  const dead = Math.round(field.length / DEAD_EVERY);
  for (let n = 0; n < dead; n++) field[random.below(field.length)] = 0;
  return field;
}

/** What each sample gives without light, interleaved RGB, as a share of full scale: an uneven zero, uneven rows, and a few hot samples. */
export function sensorDark(seed: number, { widthPx, heightPx }: CameraModel): Float32Array {
  const random = randomStream(seed, 'camera', 'dark');
  const dark = new Float32Array(widthPx * heightPx * 3);
  for (let row = 0, i = 0; row < heightPx; row++) {
    const level = DARK_LEVEL + random.between(-PATTERN, PATTERN);
    for (const end = i + widthPx * 3; i < end; i++) dark[i] = level + random.between(-PATTERN, PATTERN);
  }
  const hot = Math.round(dark.length / HOT_EVERY);
  for (let n = 0; n < hot; n++) dark[random.below(dark.length)] = random.between(0.02, 1);
  return dark;
}

function darken(field: Float32Array, widthPx: number, heightPx: number, column: number, row: number, radiusPx: number, depth: number): void {
  const reach = Math.ceil(radiusPx * 3);
  for (let r = Math.max(0, Math.floor(row) - reach); r < Math.min(heightPx, row + reach); r++) {
    for (let c = Math.max(0, Math.floor(column) - reach); c < Math.min(widthPx, column + reach); c++) {
      const squared = ((c + 0.5 - column) ** 2 + (r + 0.5 - row) ** 2) / (radiusPx * radiusPx);
      const left = 1 - depth * Math.exp(-squared / 2);
      for (let channel = 0; channel < 3; channel++) {
        const i = (r * widthPx + c) * 3 + channel;
        field[i] = (field[i] as number) * left;
      }
    }
  }
}
