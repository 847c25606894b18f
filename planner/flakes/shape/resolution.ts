/** Middle of the light that a colour camera sees, um. */
const WAVELENGTH_UM = 0.55;

/**
 * Size of a resolution element on the chip, um: Rayleigh's 0.61 lambda/NA (Born and Wolf, Principles of Optics, section 8.6, on the
 * microscope; from memory), at 550 nm.
 */
export function resolutionUm(numericalAperture: number): number {
  return (0.61 * WAVELENGTH_UM) / numericalAperture;
}
