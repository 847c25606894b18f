/**
 * Thin-film optics: how bright a film of given thickness looks on oxidised silicon, by wavelength, aperture, lamp and camera.
 * Convention: N = n + ik with k >= 0 for absorption, contrast C = (R0 - R)/R0, numerical aperture that of the aperture stop.
 */
export { bandReflectance, stackAt } from './bandReflectance.ts';
export type { StackDesign } from './bandReflectance.ts';
export { bandSensitivity, bandWeights, idealColourBands, idealMonoBands, spectralGrid } from './bands.ts';
export type { Band, BandSet } from './bands.ts';
export { colourOf, coloursSeen } from './colour.ts';
export type { SeenColour, Triple } from './colour.ts';
export { curveOn, layerCurve, thicknessCurve } from './curves.ts';
export type { ContrastCurve, ViewOptions } from './curves.ts';
export { prepareWafer, reflectanceSpectra } from './filmOnOxide.ts';
export type { Fineness, PreparedWafer, Wafer } from './filmOnOxide.ts';
export { constantIndex, indexAt } from './indexTable.ts';
export type { IndexTable, RefractiveIndex } from './indexTable.ts';
export { equalEnergy, halogen, lampPower, whiteLed } from './lamps.ts';
export type { Lamp } from './lamps.ts';
export { filmOf, graphite, materialIds, materials, thickFilmOf } from './materials.ts';
export type { Film, MaterialId } from './materials.ts';
export { coneShares, stackReflectance, stackShares } from './transferMatrix.ts';
export type { Layer, Polarisation, PowerShares, Stack } from './transferMatrix.ts';
