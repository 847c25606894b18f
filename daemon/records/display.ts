import type { CameraFrame } from '../../drivers/interfaces/index.ts';
import { fillCellRow } from '../vision/cellRows.ts';
import { CELL_PX } from '../vision/cells.ts';
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

interface Light {
  /** Linear, 0 to 1 of full scale, interleaved. */
  readonly values: Float32Array;
  readonly widthPx: number;
  readonly heightPx: number;
  readonly channels: number;
}

/** Mean linear light of squares of binPx; what does not fill a square at the right and lower edge is left out. */
function binned(samples: Samples, transfer: 'linear' | 'srgb', binPx: number): Light {
  const { channels, data } = samples;
  const table = linearTable(transfer, samples.fullScale);
  const widthPx = Math.floor(samples.widthPx / binPx);
  const heightPx = Math.floor(samples.heightPx / binPx);
  const values = new Float32Array(widthPx * heightPx * channels);
  const share = 1 / (binPx * binPx);
  for (let row = 0; row < heightPx * binPx; row++) {
    const to = Math.floor(row / binPx) * widthPx * channels;
    let from = row * samples.widthPx * channels;
    for (let col = 0; col < widthPx; col++) {
      for (let n = 0; n < binPx; n++) {
        for (let at = to + col * channels, end = at + channels; at < end; at++, from++) {
          values[at] = (values[at] as number) + (table[data[from] as number] as number) * share;
        }
      }
    }
  }
  return { values, widthPx, heightPx, channels };
}

/** Divides the light by the flat field in place; places that hold no level are left as they are. */
function flatten({ values, widthPx, heightPx, channels }: Light, flat: FlatField, binPx: number): void {
  const line = new Float32Array(widthPx);
  for (let row = 0; row < heightPx; row++) {
    for (let channel = 0; channel < channels; channel++) {
      fillCellRow(flat, channel, row, CELL_PX / binPx, line);
      let at = row * widthPx * channels + channel;
      for (let col = 0; col < widthPx; col++, at += channels) {
        const level = line[col] as number;
        if (level > 0) values[at] = (values[at] as number) / level;
      }
    }
  }
}

/** The table's value of a light between none and full. */
function encoded(light: number, scale: number): number {
  const step = light * scale + 0.5;
  return encodeTable[step >= encodeSteps ? encodeSteps : step > 0 ? step | 0 : 0] as number;
}

function encode({ values, channels }: Light, gain: number): Uint8Array {
  const scale = gain * encodeSteps;
  if (channels === 3) {
    const rgb = new Uint8Array(values.length);
    for (let i = 0; i < values.length; i++) rgb[i] = encoded(values[i] as number, scale);
    return rgb;
  }
  const rgb = new Uint8Array(values.length * 3);
  for (let i = 0; i < values.length; i++) rgb.fill(encoded(values[i] as number, scale), 3 * i, 3 * i + 3);
  return rgb;
}

/**
 * A picture for people of a frame of 8 to 16 bits, mono, RGB or mosaic: linear light, divided by the flat field, one gain for all
 * channels that puts bare oxide at L* 48, encoded to sRGB. The gain follows the substrate only, never the picture: two pictures of one
 * chip are comparable. Throws VisionError for a frame whose data do not fit its format.
 */
export function toDisplayRgb8(frame: CameraFrame, options: DisplayOptions): Picture {
  const binPx = Math.max(1, Math.floor(options.binPx ?? 1));
  const light = binned(samplesOf(frame), options.transfer, binPx);
  if (options.flat?.channels === light.channels) flatten(light, options.flat, binPx);
  return { rgb: encode(light, gainFor(options.substrate)), widthPx: light.widthPx, heightPx: light.heightPx };
}
