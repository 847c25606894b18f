import type { CameraFrame } from '../../drivers/interfaces/index.ts';
import { linearTable } from '../vision/linearise.ts';
import { samplesOf } from '../vision/samples.ts';
import type { Samples } from '../vision/samples.ts';
import type { FlatField } from '../vision/types.ts';

/** A picture for people: sRGB, 8 bits, interleaved RGB. */
export interface Picture {
  readonly rgb: Uint8Array;
  readonly widthPx: number;
  readonly heightPx: number;
}

export interface DisplayOptions {
  readonly transfer: 'linear' | 'srgb';
  readonly flat?: FlatField;
  /** Level of bare oxide per channel, linear, 0 to 1 of full scale, after the flat field; none when it is not known: then gain is 1. */
  readonly substrate?: readonly number[];
  /** Squares of this many pixels become one; 1 when left out. A map picture needs no more. */
  readonly binPx?: number;
}

/** Where the substrate is put on screen: the middle of L* 42 to 54, which does not glare in a dark room. */
const substrateLightness = 48;
/** Steps of the table from linear light to sRGB: in the darkest part one step is less than one 8-bit value. */
const encodeSteps = 4096;

/** Relative luminance of an L*, CIE 15:2004 (above L* 8): Y = ((L* + 16) / 116)^3. */
function luminance(lightness: number): number {
  return ((lightness + 16) / 116) ** 3;
}

/** One gain for all channels, so that hue is left alone. Luminance of linear sRGB: IEC 61966-2-1:1999 (Rec. ITU-R BT.709 weights). */
function gainFor(substrate: readonly number[] | undefined): number {
  const [red, green = red, blue = red] = substrate ?? [];
  if (red === undefined || green === undefined || blue === undefined) return 1;
  const level = 0.2126 * red + 0.7152 * green + 0.0722 * blue;
  return level > 0 && Number.isFinite(level) ? luminance(substrateLightness) / level : 1;
}

/** Linear light to sRGB, IEC 61966-2-1:1999, as a table of 8-bit values. */
const encodeTable = Uint8Array.from({ length: encodeSteps + 1 }, (_, step) => {
  const light = step / encodeSteps;
  return Math.round(255 * (light <= 0.0031308 ? 12.92 * light : 1.055 * light ** (1 / 2.4) - 0.055));
});

/** Mean linear light of squares of binPx; what does not fill a square at the right and lower edge is left out. */
function binned(samples: Samples, transfer: 'linear' | 'srgb', binPx: number): { readonly light: Float32Array; readonly widthPx: number; readonly heightPx: number } {
  const { channels, data } = samples;
  const table = linearTable(transfer, samples.fullScale);
  const widthPx = Math.floor(samples.widthPx / binPx);
  const heightPx = Math.floor(samples.heightPx / binPx);
  const light = new Float32Array(widthPx * heightPx * channels);
  const rowLength = samples.widthPx * channels;
  for (let row = 0; row < heightPx * binPx; row++) {
    const to = Math.floor(row / binPx) * widthPx * channels;
    for (let col = 0; col < widthPx; col++) {
      let from = row * rowLength + col * binPx * channels;
      for (let n = 0; n < binPx; n++) {
        for (let channel = 0; channel < channels; channel++, from++) {
          const at = to + col * channels + channel;
          light[at] = (light[at] as number) + (table[data[from] as number] as number);
        }
      }
    }
  }
  const share = 1 / (binPx * binPx);
  for (let i = 0; i < light.length; i++) light[i] = (light[i] as number) * share;
  return { light, widthPx, heightPx };
}

/** Place of a pixel among cell centres: the lower cell and how far on to the next. */
function placeAmong(cells: number, pixel: number, pixels: number): readonly [number, number] {
  const at = Math.min(Math.max(((pixel + 0.5) * cells) / pixels - 0.5, 0), cells - 1);
  const lower = Math.min(Math.floor(at), Math.max(0, cells - 2));
  return [lower, at - lower];
}

/** The flat field along one row of the picture, cells still apart: rows are blended here, columns by the caller. */
function flatRow(flat: FlatField, row: number, heightPx: number): Float32Array {
  const [lower, on] = placeAmong(flat.rows, row, heightPx);
  const length = flat.columns * flat.channels;
  const blended = new Float32Array(length);
  const next = Math.min(lower + 1, flat.rows - 1) * length;
  for (let i = 0; i < length; i++) blended[i] = (flat.values[lower * length + i] as number) * (1 - on) + (flat.values[next + i] as number) * on;
  return blended;
}

/** Divides the light by the flat field in place. */
function flatten(light: Float32Array, channels: number, widthPx: number, heightPx: number, flat: FlatField): void {
  const places = Array.from({ length: widthPx }, (_, col) => placeAmong(flat.columns, col, widthPx));
  const step = flat.columns > 1 ? flat.channels : 0;
  let at = 0;
  for (let row = 0; row < heightPx; row++) {
    const cells = flatRow(flat, row, heightPx);
    for (const [lower, on] of places) {
      for (let channel = 0; channel < channels; channel++, at++) {
        const cell = lower * flat.channels + channel;
        const level = (cells[cell] as number) * (1 - on) + (cells[cell + step] as number) * on;
        if (level > 0) light[at] = (light[at] as number) / level;
      }
    }
  }
}

function encode(light: Float32Array, channels: number, gain: number): Uint8Array {
  const pixels = light.length / channels;
  const rgb = new Uint8Array(pixels * 3);
  const scale = gain * encodeSteps;
  for (let pixel = 0, to = 0; pixel < pixels; pixel++) {
    for (let channel = 0; channel < 3; channel++, to++) {
      const value = light[pixel * channels + (channels === 3 ? channel : 0)] as number;
      rgb[to] = encodeTable[Math.min(encodeSteps, Math.max(0, Math.round(value * scale)))] as number;
    }
  }
  return rgb;
}

/**
 * A picture for people of a frame of 8 to 16 bits, mono, RGB or mosaic: linear light, divided by the flat field, one gain for all
 * channels that puts bare oxide at L* 48, encoded to sRGB. The gain follows the substrate only, never the picture: two pictures of one
 * chip are comparable. Throws VisionError for a frame whose data do not fit its format.
 */
export function toDisplayRgb8(frame: CameraFrame, options: DisplayOptions): Picture {
  const samples = samplesOf(frame);
  const { light, widthPx, heightPx } = binned(samples, options.transfer, Math.max(1, Math.floor(options.binPx ?? 1)));
  if (options.flat?.channels === samples.channels) flatten(light, samples.channels, widthPx, heightPx, options.flat);
  return { rgb: encode(light, samples.channels, gainFor(options.substrate)), widthPx, heightPx };
}
