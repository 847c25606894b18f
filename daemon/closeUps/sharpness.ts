import { bayerPattern } from '../../drivers/frames/bayer.ts';
import type { CameraFrame } from '../../drivers/interfaces/index.ts';
import type { OpticalPath } from '../config/resolve.ts';
import { focusMeasure } from '../run/focusMeasure.ts';

/** Green, um, as for the depth of field. */
const wavelengthUm = 0.55;

/**
 * How sharp a part of a close-up is. At high magnification the camera has several pixels for what the objective resolves (0.61 wavelength /
 * NA, Rayleigh; any textbook of optics), and their differences are noise: they are brought together first, two to what is resolved.
 */
export function sharpnessFor({ numericalAperture, pixelUm }: Pick<OpticalPath, 'numericalAperture' | 'pixelUm'>): (frame: CameraFrame) => number {
  const resolvedUm = (0.61 * wavelengthUm) / numericalAperture;
  const binPx = Math.max(1, Math.round(resolvedUm / (2 * pixelUm)));
  return (frame) => {
    return focusMeasure(binned(frame, bayerPattern(frame.pixelFormat) ? 2 * Math.ceil(binPx / 2) : binPx));
  };
}

/** Squares of so many pixels as one, of the middle channel; what fills no square at the right and lower edge is left out. */
function binned(frame: CameraFrame, binPx: number): CameraFrame {
  const channels = frame.data.length / (frame.widthPx * frame.heightPx);
  const [widthPx, heightPx] = [Math.floor(frame.widthPx / binPx), Math.floor(frame.heightPx / binPx)];
  if (binPx === 1 || widthPx < 4 || heightPx < 2) return frame;
  const share = 16 / (binPx * binPx);
  const data = new Uint16Array(widthPx * heightPx);
  for (let row = 0; row < heightPx; row += 1) {
    for (let col = 0; col < widthPx; col += 1) {
      let sum = 0;
      for (let y = 0; y < binPx; y += 1) {
        let at = ((row * binPx + y) * frame.widthPx + col * binPx) * channels + (channels >> 1);
        for (let x = 0; x < binPx; x += 1, at += channels) sum += frame.data[at] as number;
      }
      data[row * widthPx + col] = Math.min(65_535, Math.round(sum * share));
    }
  }
  return { ...frame, widthPx, heightPx, pixelFormat: 'mono16', bits: 16, data };
}
