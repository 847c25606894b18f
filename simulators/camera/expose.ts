import { hashText, randomStream, xorshift } from '../random.ts';
import { FULL_WELL, READ_NOISE } from './cameraModel.ts';

/** How bright and how noisy the picture becomes, and which part of the sensor is read. */
export interface Exposure {
  /** What a reflectance of 1 gives, in full pixels. */
  readonly scale: number;
  /** Amplification after the electrons were counted, as a factor. */
  readonly gain: number;
  readonly bits: number;
  readonly transfer: 'linear' | 'srgb';
  readonly noiseKey: string;
  readonly width: number;
  readonly height: number;
  /** First column and row of the part, and the sensor's width, to find its place in the field. */
  readonly column: number;
  readonly row: number;
  readonly sensorWidth: number;
}

const NORMALS = 65_536;
let normals: Float32Array | undefined;

/** A table of normal deviates: drawing from it is ten times quicker than drawing them. The same table for all seeds; the order differs. */
function normalTable(): Float32Array {
  if (normals) return normals;
  const random = randomStream(0, 'camera', 'table of noise');
  normals = Float32Array.from({ length: NORMALS }, () => random.normal());
  return normals;
}

const ENCODER_STEPS = 16_384;
const encoders = new Map<number, Uint16Array>();

/** Numbers for light from 0 to full, in equal steps, by the sRGB curve (IEC 61966-2-1). */
function srgbEncoder(full: number): Uint16Array {
  const known = encoders.get(full);
  if (known) return known;
  const made = Uint16Array.from({ length: ENCODER_STEPS + 1 }, (_, i) => {
    const light = i / ENCODER_STEPS;
    const encoded = light <= 0.0031308 ? 12.92 * light : 1.055 * light ** (1 / 2.4) - 0.055;
    return Math.round(encoded * full);
  });
  encoders.set(full, made);
  return made;
}

/** A 32-bit state that is never 0. */
const noiseSeed = (key: string) => hashText(key) || 1;

/** What a sensor is like, sample by sample, interleaved RGB: see `sensorField` and `sensorDark`. */
export interface Sensor {
  readonly field: Float32Array;
  readonly dark: Float32Array;
}

/**
 * What the sensor makes of the light: uneven field, shot noise of the electrons, read noise, dark level, saturation, quantisation.
 * `light` holds reflectance, interleaved RGB, of the part that is read.
 */
export function expose(light: Float32Array, { field, dark }: Sensor, exposure: Exposure): Uint8Array | Uint16Array {
  const { scale, gain, bits, transfer, width, height, column, row, sensorWidth } = exposure;
  const table = normalTable();
  const full = 2 ** bits - 1;
  const encoder = transfer === 'srgb' ? srgbEncoder(full) : undefined;
  const data = bits === 8 ? new Uint8Array(light.length) : new Uint16Array(light.length);
  const readVariance = (READ_NOISE / FULL_WELL) ** 2;
  // Held at hand for the inner loop: a look into another module for each sample costs as much as the sample.
  const [fullWell, next] = [FULL_WELL, xorshift];
  let state = noiseSeed(exposure.noiseKey);
  let i = 0;
  for (let y = 0; y < height; y++) {
    let f = ((row + y) * sensorWidth + column) * 3;
    for (const end = i + width * 3; i < end; i++, f++) {
      const electrons = (light[i] as number) * (field[f] as number) * scale;
      state = next(state);
      const noise = (table[state & (NORMALS - 1)] as number) * Math.sqrt(electrons / fullWell + readVariance);
      const level = (electrons > 1 ? 1 : electrons + noise) * gain + (dark[f] as number);
      const clipped = level < 0 ? 0 : level > 1 ? 1 : level;
      data[i] = encoder ? (encoder[(clipped * ENCODER_STEPS + 0.5) | 0] as number) : (clipped * full + 0.5) | 0;
    }
  }
  return data;
}
