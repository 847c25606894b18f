export { materialOf, soughtOn } from './chipMaterial.ts';
export type { InstrumentConfig, OpticalPathConfig } from './instrument.ts';
export { checkFile, checkTogether, parseInstrument, parsePeople, parseRunSheet } from './load.ts';
export type { CheckedFile, ReadPeople } from './load.ts';
export type { SourceText } from './sourceText.ts';
export { readSource } from './readSource.ts';
export { cameraToStageFor, opticalPathFor, outlineFor, planRequestFor, safetyLimitsFor } from './resolve.ts';
export type { OpticalPath } from './resolve.ts';
export type { ChipSheet, RunSheet } from './runSheet.ts';
