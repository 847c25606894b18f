/** A band-pass filter in front of the lamp: the middle of its band and the full width at half of its transmittance. */
export interface BandPass {
  readonly centreNm: number;
  readonly widthNm: number;
}

/**
 * Transmittance of an idealised interference filter, 1 in the middle and 1/2 at centre +- width/2: exp(-ln 2 (2 |w - c| / width)^6), a model of
 * ours. The sixth power gives the flat top and steep sides of such filters; real ones pass 80 to 95 % (common practice, no source), which
 * changes no contrast.
 */
export function filterTransmittance(filter: BandPass, wavelengthNm: number): number {
  return Math.exp(-Math.LN2 * ((2 * (wavelengthNm - filter.centreNm)) / filter.widthNm) ** 6);
}
