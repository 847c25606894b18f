import type { BayerPattern, CameraFrame, PixelFormat } from '../../../drivers/interfaces/index.ts';

/** The encoding curve of IEC 61966-2-1, written down independently of the decoder under test. */
export const srgb = (v: number): number => (v <= 0.0031308 ? 12.92 * v : 1.055 * v ** (1 / 2.4) - 0.055);

/** Colours of the upper left 2x2 pixels of a mosaic, row by row, as the names of the patterns say them (0 red, 1 green, 2 blue). */
const CELLS: Record<BayerPattern, readonly (readonly [number, number])[]> = {
  RG: [[0, 1], [1, 2]],
  GR: [[1, 0], [2, 1]],
  GB: [[1, 2], [0, 1]],
  BG: [[2, 1], [1, 0]],
};

export interface Camera {
  readonly pixelFormat: PixelFormat;
  readonly bits: number;
  readonly transfer: 'linear' | 'srgb';
}

/** What another camera makes of the light of a drawn frame (rgb16, linear): its samples, steps and transfer. */
export function asCamera(drawn: CameraFrame, { pixelFormat, bits, transfer }: Camera): CameraFrame {
  const full = 2 ** bits - 1;
  const code = (sample: number): number => Math.round(full * (transfer === 'srgb' ? srgb(sample / 65535) : sample / 65535));
  const samples = bits === 8 ? (n: number) => new Uint8Array(n) : (n: number) => new Uint16Array(n);
  const base = { ...drawn, pixelFormat, bits };
  if (pixelFormat.startsWith('rgb')) return { ...base, data: samples(drawn.data.length).map((_, i) => code(drawn.data[i] ?? 0)) };
  const pattern = (['RG', 'GR', 'GB', 'BG'] as const).find((p) => pixelFormat.startsWith(`bayer${p}`));
  const channel = (i: number): number => {
    if (!pattern) return 1;
    const [col, row] = [i % drawn.widthPx, Math.floor(i / drawn.widthPx)];
    return CELLS[pattern][row % 2]?.[col % 2] ?? 1;
  };
  return { ...base, data: samples(drawn.widthPx * drawn.heightPx).map((_, i) => code(drawn.data[3 * i + channel(i)] ?? 0)) };
}
