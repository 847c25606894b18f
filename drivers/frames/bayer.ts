import type { BayerPattern, PixelFormat, Region } from '../interfaces/index.ts';

const MOVED_RIGHT = { RG: 'GR', GR: 'RG', GB: 'BG', BG: 'GB' } as const;
const MOVED_DOWN = { RG: 'GB', GB: 'RG', GR: 'BG', BG: 'GR' } as const;

/** The pattern of a mosaic's filters, undefined for other formats. */
export function bayerPattern(format: PixelFormat): BayerPattern | undefined {
  return (['RG', 'GR', 'GB', 'BG'] as const).find((pattern) => format.startsWith(`bayer${pattern}`));
}

/** The format of a part of a frame: a mosaic that is cut at an odd place begins with another filter. */
export function formatOfPart(format: PixelFormat, { colPx, rowPx }: Region): PixelFormat {
  const whole = bayerPattern(format);
  if (whole === undefined) return format;
  const across = colPx % 2 === 0 ? whole : MOVED_RIGHT[whole];
  return `bayer${rowPx % 2 === 0 ? across : MOVED_DOWN[across]}${format.endsWith('16') ? 16 : 8}`;
}
