export { materialOf, soughtOn } from './chipMaterial.ts';
export type { InstrumentConfig, OpticalPathConfig } from './instrument.ts';
export { checkFile, checkTogether, parseInstrument, parseRunSheet } from './load.ts';
export type { CheckedFile } from './load.ts';
export type { SourceText } from './sourceText.ts';
export { readSource } from './readSource.ts';
export { cameraToStageFor, opticalPathFor, outlineFor, planRequestFor, safetyLimitsFor } from './resolve.ts';
export type { OpticalPath } from './resolve.ts';
export type { ChipSheet, RunSheet } from './runSheet.ts';
