import sharp from 'sharp';
import type { Matrix2 } from '../../planner/units/index.ts';
import type { TellingPicture } from './types.ts';

/** Longer side in the mail, px, and the most that one picture may weigh: twelve of them stay below what mail servers take (10 MB, common practice, no source). */
const longSidePx = 480;
export const maxPictureBytes = 300_000;
/** Tried one after the other until the picture is light enough; noise is what makes one heavy. */
const qualities: readonly number[] = [92, 80, 60];

/**
 * A flake's picture for a mail: at most 480 px, with a scale bar. JPEG, since every mail reader shows it; it smooths faint contrast, so that
 * what is measured is on the page only. Undefined when the file cannot be read.
 * @param file path of a PNG as the records keep it
 */
export async function mailPicture(id: string, file: string, cameraToStageUm: Matrix2): Promise<TellingPicture | undefined> {
  try {
    const { data, info } = await sharp(file, { limitInputPixels: 64e6 }).resize({ width: longSidePx, height: longSidePx, fit: 'inside' }).removeAlpha().toColourspace('srgb').raw().toBuffer({ resolveWithObject: true });
    const before = await sharp(file).metadata();
    const [a, b, c, d] = cameraToStageUm;
    const umPerPx = (Math.sqrt(Math.abs(a * d - b * c)) * before.width) / info.width;
    const barUm = roundLengthUm((umPerPx * info.width) / 4);
    const drawn = sharp(data, { raw: { width: info.width, height: info.height, channels: info.channels } }).composite([{ input: barSvg(info.width, info.height, barUm / umPerPx), left: 0, top: 0 }]);
    const flat = await drawn.removeAlpha().png().toBuffer();
    for (const quality of qualities) {
      const jpeg = await sharp(flat).jpeg({ quality, chromaSubsampling: '4:4:4' }).toBuffer();
      if (jpeg.length <= maxPictureBytes) return { id, jpeg, widthPx: info.width, heightPx: info.height, barUm };
    }
    return undefined;
  } catch {
    return undefined;
  }
}

/** The longest of 1, 2, 5, 10, 20, ... that is not longer. */
export function roundLengthUm(um: number): number {
  const power = 10 ** Math.floor(Math.log10(um));
  const digit = um / power >= 5 ? 5 : um / power >= 2 ? 2 : 1;
  return Number((digit * power).toPrecision(1));
}

/** White on black: to be seen on any chip. */
function barSvg(widthPx: number, heightPx: number, barPx: number): Buffer {
  const [x, y] = [widthPx - barPx - 10, heightPx - 14];
  return Buffer.from(
    `<svg xmlns="http://www.w3.org/2000/svg" width="${widthPx}" height="${heightPx}"><rect x="${x - 2}" y="${y - 2}" width="${barPx + 4}" height="8" fill="black"/><rect x="${x}" y="${y}" width="${barPx}" height="4" fill="white"/></svg>`,
  );
}
