import fc from 'fast-check';
import sharp from 'sharp';
import { describe, expect, it } from 'vitest';
import { binFor, encodeCrop, encodeMapPicture, encodePictureCrop, regionWithin, toDisplayRgb8 } from '../../../daemon/records/images.ts';
import type { CameraFrame, PixelFormat } from '../../../drivers/interfaces/index.ts';

function frame(pixelFormat: PixelFormat, bits: number, widthPx: number, heightPx: number, sample: (index: number) => number): CameraFrame {
  const length = widthPx * heightPx * (pixelFormat.startsWith('rgb') ? 3 : 1);
  const data = pixelFormat.endsWith('16') ? Uint16Array.from({ length }, (_, i) => sample(i)) : Uint8Array.from({ length }, (_, i) => sample(i));
  return { widthPx, heightPx, pixelFormat, bits, data, exposureMs: 8, takenAtMs: 0 };
}

/** sRGB 8 bit to CIE L*, written out from IEC 61966-2-1 (decoding, Y of D65) and CIE 15 (L* of Y), apart from the code under test. */
function lightness([red = 0, green = 0, blue = 0]: ArrayLike<number> & Iterable<number>): number {
  const linear = (value: number) => (value / 255 > 0.04045 ? ((value / 255 + 0.055) / 1.055) ** 2.4 : value / 255 / 12.92);
  const y = 0.2126 * linear(red) + 0.7152 * linear(green) + 0.0722 * linear(blue);
  return y > 216 / 24389 ? 116 * Math.cbrt(y) - 16 : (24389 / 27) * y;
}

describe('pictures for people', () => {
  // look.md: one gain for all channels puts the substrate at L* 42 to 54.
  it('put bare oxide at L* 42 to 54, whatever camera and light', () => {
    const level = fc.double({ min: 0.02, max: 0.9, noNaN: true });
    fc.assert(
      fc.property(level, fc.double({ min: 0.8, max: 1.25, noNaN: true }), fc.double({ min: 0.8, max: 1.25, noNaN: true }), fc.constantFrom(8, 10, 12, 16), (green, red, blue, bits) => {
        const substrate = [green * red, green, green * blue].map((value) => Math.min(1, value));
        const full = 2 ** bits - 1;
        const { rgb } = toDisplayRgb8(frame(bits === 8 ? 'rgb8' : 'rgb16', bits, 4, 2, (i) => Math.round((substrate[i % 3] ?? 0) * full)), { transfer: 'linear', substrate });
        expect(lightness(rgb.subarray(0, 3))).toBeGreaterThanOrEqual(42);
        expect(lightness(rgb.subarray(0, 3))).toBeLessThanOrEqual(54);
      }),
    );
  });

  it('leave hue alone: equal channels stay equal', () => {
    const { rgb } = toDisplayRgb8(frame('rgb8', 8, 8, 8, (i) => 20 + (Math.floor(i / 3) % 40)), { transfer: 'linear', substrate: [0.15, 0.15, 0.15] });
    for (let i = 0; i < rgb.length; i += 3) expect([rgb[i + 1], rgb[i + 2]]).toEqual([rgb[i], rgb[i]]);
  });

  it('show an sRGB camera as it is when no gain is known', () => {
    const { rgb } = toDisplayRgb8(frame('rgb8', 8, 16, 16, (i) => i % 256), { transfer: 'srgb' });
    rgb.forEach((value, i) => expect(Math.abs(value - (i % 256))).toBeLessThanOrEqual(1));
  });

  it('are grey for a mono camera, and whole cells for a mosaic', () => {
    const mono = toDisplayRgb8(frame('mono16', 12, 4, 4, () => 800), { transfer: 'linear', substrate: [800 / 4095] });
    expect(new Set(mono.rgb).size).toBe(1);
    expect(lightness(mono.rgb)).toBeCloseTo(48, 0);
    const mosaic = toDisplayRgb8(frame('bayerRG8', 8, 8, 6, () => 51), { transfer: 'linear', substrate: [0.2, 0.2, 0.2] });
    expect([mosaic.widthPx, mosaic.heightPx, mosaic.rgb.length]).toEqual([4, 3, 36]);
  });

  it('are even where the light is not, once divided by the flat field', () => {
    // Light that falls off linearly across the field; between the centres of its cells a flat field is linear as well.
    const [columns, rows, widthPx, heightPx] = [16, 4, 256, 64];
    const lit = (x: number) => 0.8 + 0.4 * x;
    const values = Float32Array.from({ length: columns * rows * 3 }, (_, i) => lit((Math.floor(i / 3) % columns + 0.5) / columns));
    const tilted = frame('rgb16', 16, widthPx, heightPx, (i) => Math.round(65_535 * 0.3 * lit(((Math.floor(i / 3) % widthPx) + 0.5) / widthPx)));
    const { rgb } = toDisplayRgb8(tilted, { transfer: 'linear', flat: { columns, rows, channels: 3, values, frames: 1 }, substrate: [0.3, 0.3, 0.3] });
    const inner = Array.from({ length: 224 }, (_, n) => rgb[(20 * widthPx + 16 + n) * 3] ?? 0);
    expect(Math.max(...inner) - Math.min(...inner)).toBeLessThanOrEqual(1);
    expect(lightness([inner[0] ?? 0, inner[0] ?? 0, inner[0] ?? 0])).toBeCloseTo(48, 0);
  });

  it('average light, not its code, when pixels are brought together', () => {
    // Black and white squares: half the light is sRGB 188 (0.5 of linear light, IEC 61966-2-1), not 128.
    const checks = frame('mono8', 8, 6, 5, (i) => ((i % 6) % 2 === (Math.floor(i / 6) % 2) ? 255 : 0));
    const small = toDisplayRgb8(checks, { transfer: 'linear', binPx: 2 });
    expect([small.widthPx, small.heightPx]).toEqual([3, 2]);
    expect([...new Set(small.rgb)]).toEqual([188]);
    expect([binFor(2448, 640), binFor(1224, 640), binFor(900, 640), binFor(300, 640)]).toEqual([4, 2, 1, 1]);
  });
});

describe('coded pictures', () => {
  it.each([['rgb8', 8], ['mono8', 8], ['rgb16', 12], ['mono16', 16], ['bayerRG16', 10]] as const)('a crop keeps every sample of %s', async (pixelFormat, bits) => {
    const whole = frame(pixelFormat, bits, 40, 30, (i) => (i * 7919) % 2 ** bits);
    const png = await encodeCrop(whole, { colPx: 5, rowPx: 7, widthPx: 20, heightPx: 11 });
    const channels = pixelFormat.startsWith('rgb') ? 3 : 1;
    const { data, info } = await sharp(png).toColourspace(channels === 3 ? (bits > 8 ? 'rgb16' : 'srgb') : bits > 8 ? 'grey16' : 'b-w').raw({ depth: bits > 8 ? 'ushort' : 'uchar' }).toBuffer({ resolveWithObject: true });
    expect([info.width, info.height, info.channels]).toEqual([20, 11, channels]);
    const samples = bits > 8 ? new Uint16Array(data.buffer, data.byteOffset, data.length / 2) : data;
    for (let i = 0; i < samples.length; i++) {
      const [row, col] = [Math.floor(i / (20 * channels)), i % (20 * channels)];
      expect(samples[i]).toBe(whole.data[(7 + row) * 40 * channels + 5 * channels + col]);
    }
  });

  it('a crop for people keeps every value', async () => {
    const rgb = Uint8Array.from({ length: 300 }, (_, i) => i % 251);
    const png = await encodePictureCrop({ rgb, widthPx: 10, heightPx: 10 }, { colPx: 9, rowPx: 2, widthPx: 1, heightPx: 2 });
    expect([...(await sharp(png).raw().toBuffer())]).toEqual([...rgb.subarray(87, 90), ...rgb.subarray(117, 120)]);
  });

  it('a map picture is no wider than wanted, and looks the same', async () => {
    const rgb = new Uint8Array(200 * 100 * 3).fill(113);
    const small = await encodeMapPicture(rgb, 200, 100, 80);
    const { data, info } = await sharp(small).removeAlpha().raw().toBuffer({ resolveWithObject: true });
    expect([info.width, info.height]).toEqual([80, 40]);
    expect(data.every((value) => Math.abs(value - 113) <= 2)).toBe(true);
    expect((await sharp(await encodeMapPicture(rgb, 200, 100, 500)).metadata()).width).toBe(200);
  });

  it('a region is moved into its frame, and refused outside', () => {
    expect(regionWithin({ colPx: -3.5, rowPx: 2.2, widthPx: 10, heightPx: 200 }, 100, 50)).toEqual({ colPx: 0, rowPx: 2, widthPx: 7, heightPx: 48 });
    expect(() => regionWithin({ colPx: 100, rowPx: 0, widthPx: 5, heightPx: 5 }, 100, 50)).toThrow(/outside/);
  });
});
