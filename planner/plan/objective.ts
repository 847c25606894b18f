import type { Matrix2 } from '../units/index.ts';

/** Side of one pixel in the object, in um: the pixel pitch on the sensor over the magnification (binning in the pitch). */
export function pixelSizeUm(pixelPitchUm: number, magnification: number): number {
  if (!(pixelPitchUm > 0) || !(magnification > 0)) throw new RangeError(`pixel pitch ${pixelPitchUm} um, magnification ${magnification}`);
  return pixelPitchUm / magnification;
}

export interface FieldOfView {
  readonly widthUm: number;
  readonly heightUm: number;
}

/** What one frame shows: lengths of its sides on the stage, along the camera's columns and along its rows. */
export function fieldOfView(frameWidthPx: number, frameHeightPx: number, cameraToStageUm: Matrix2): FieldOfView {
  const [m00, m01, m10, m11] = cameraToStageUm;
  return { widthUm: frameWidthPx * Math.hypot(m00, m10), heightUm: frameHeightPx * Math.hypot(m01, m11) };
}

/**
 * The matrix that turns pixels from the frame's centre (column to the right, row downwards in the picture) into stage um.
 * Unturned and not mirrored, columns run along +x and rows along +y of the stage; `mirrored` makes rows run along -y; then the whole is
 * turned by `rotationDeg` from +x towards +y. The scale is the pixel's size in the object.
 */
export function cameraToStage(pixelUm: number, rotationDeg: number, mirrored: boolean): Matrix2 {
  const angle = (rotationDeg * Math.PI) / 180;
  const along = pixelUm * Math.cos(angle);
  const across = pixelUm * Math.sin(angle);
  return mirrored ? [along, across, across, -along] : [along, -across, across, along];
}
