/**
 * Thin-film optics: how bright a film of given thickness looks on oxidised silicon, by wavelength, aperture, lamp and camera.
 * Convention: N = n + ik with k >= 0 for absorption, contrast C = (R0 - R)/R0, numerical aperture that of the aperture stop.
 */
export { alikeLayers, apartAtErrors, contrastError, usualUnevenness } from './apart.ts';
export type { AlikeLayers, Measurement } from './apart.ts';
export { bandReflectance, stackAt } from './bandReflectance.ts';
export type { StackDesign } from './bandReflectance.ts';
export { bandSensitivity, bandWeights, channelLight, idealColourBands, idealMonoBands, observerBands, spectralGrid } from './bands.ts';
export type { Band, BandSet, ChannelLight } from './bands.ts';
export { bestFilter, contrastPeaks } from './bestFilter.ts';
export type { BestFilter, BestFilterOptions, FilteredView } from './bestFilter.ts';
export { bestOxides } from './bestOxide.ts';
export type { BestOxide, BestOxideOptions, BestOxides } from './bestOxide.ts';
export { colourOf, coloursSeen } from './colour.ts';
export type { SeenColour, Triple } from './colour.ts';
export { contrastChart } from './contrastChart.ts';
export type { ChartOptions, ContrastChart } from './contrastChart.ts';
export { channelNames, chartOf, contrastReport, levelsFor } from './contrastReport.ts';
export type { Channel, ContrastReport, ContrastRequest, ContrastWarning } from './contrastReport.ts';
export { countedLadder, lastExactLayer } from './countedLadder.ts';
export type { Rung } from './countedLadder.ts';
export { curveOn, layerCurve, thicknessCurve } from './curves.ts';
export type { ContrastCurve, ViewOptions } from './curves.ts';
export { prepareWafer, reflectanceSpectra } from './filmOnOxide.ts';
export type { Fineness, PreparedWafer, Wafer } from './filmOnOxide.ts';
export type { Peak } from './extrema.ts';
export { filterTransmittance } from './filters.ts';
export type { BandPass } from './filters.ts';
export { constantIndex, indexAt, resampleEven } from './indexTable.ts';
export type { IndexTable, RefractiveIndex } from './indexTable.ts';
export { equalEnergy, halogen, lampPower, whiteLed } from './lamps.ts';
export type { Lamp } from './lamps.ts';
export { filmOf, graphite, materialIds, materials, thickFilmOf } from './materials.ts';
export type { Film, MaterialId } from './materials.ts';
export { regionAbove } from './regions.ts';
export type { Ring, SampledField } from './regions.ts';
export { coneShares, stackReflectance, stackShares } from './transferMatrix.ts';
export type { Layer, Polarisation, PowerShares, Stack } from './transferMatrix.ts';
