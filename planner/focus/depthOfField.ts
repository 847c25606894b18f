const GREEN_NM = 550;

/**
 * Wave part of the depth of field in air, in um, the full depth (not plus-minus): lambda sqrt(1 - NA^2)/NA^2.
 * The factor is a convention; this one reproduces the table of a microscope maker's education site at 550 nm (10x/0.25 8.5 um,
 * 40x/0.65 1.0 um, 100x/0.95 0.19 um) and is the tighter of those in use; n lambda/NA^2 stands in Fundamentals of Light Microscopy and
 * Electronic Imaging, p. 90. Throws RangeError for an aperture that no objective in air has.
 */
export function waveDepthOfFieldUm(numericalAperture: number, wavelengthNm = GREEN_NM): number {
  if (!(numericalAperture > 0 && numericalAperture < 1)) throw new RangeError(`numerical aperture ${numericalAperture} in air`);
  return ((wavelengthNm / 1000) * Math.sqrt(1 - numericalAperture ** 2)) / numericalAperture ** 2;
}

/**
 * Full depth of field with the camera, in um: the wave part, and e/(M NA) for a blur of one pixel (from memory), where e/M is the
 * pixel's size in the object.
 * @param pixelUm pixel size in the object; 0 leaves the camera out
 */
export function depthOfFieldUm(numericalAperture: number, pixelUm = 0, wavelengthNm = GREEN_NM): number {
  return waveDepthOfFieldUm(numericalAperture, wavelengthNm) + pixelUm / numericalAperture;
}
