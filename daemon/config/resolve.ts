import type { SafetyLimits } from '../../drivers/interfaces/index.ts';
import { waveDepthOfFieldUm } from '../../planner/focus/depthOfField.ts';
import type { CloseUpPolicy } from '../../planner/closeUps/index.ts';
import { cameraToStage, pixelSizeUm } from '../../planner/plan/objective.ts';
import { visitSeconds } from '../../planner/knownFlake/index.ts';
import { measuresThickness } from '../../planner/layers/tuning.ts';
import type { ChipToScan, LowTravel, Outline, PlanRequest, StageTiming } from '../../planner/plan/types.ts';
import type { Matrix2, StagePoint } from '../../planner/units/index.ts';
import { NightjarError } from '../errors/index.ts';
import type { InstrumentConfig, KnownFlakeConfig } from './instrument.ts';
import type { ChipSheet, RunSheet } from './runSheet.ts';

/** One optical path with all that follows from its objective and the camera: what a frame taken through it is read with. */
export interface OpticalPath {
  readonly name: string;
  readonly objective: string;
  readonly turretPosition: number;
  readonly magnification: number;
  readonly numericalAperture: number;
  /** NA of the illuminated cone. */
  readonly illuminationNa: number;
  readonly filter: string;
  readonly polariser: string;
  readonly lampIntensity: number;
  readonly exposureMs: number;
  readonly gainDb: number;
  /** Share of stray light in the level of bare oxide, as measured; 0 where it was not. */
  readonly strayLight: number;
  readonly pixelUm: number;
  readonly cameraToStageUm: Matrix2;
  /** Focus and picture centre of this objective against the first, in stage um. */
  readonly parfocalUm: number;
  readonly parcentricUm: StagePoint;
}

/** How this camera's pixels lie on the stage: the measured matrix where there is one, else from rotation and mirroring. um per pixel. */
export function cameraToStageFor({ cameraToStage: { matrix, rotationDeg, mirrored } }: InstrumentConfig, pixelUm: number): Matrix2 {
  if (!matrix) return cameraToStage(pixelUm, rotationDeg, mirrored);
  const [m00, m01, m10, m11] = matrix;
  return [m00 * pixelUm, m01 * pixelUm, m10 * pixelUm, m11 * pixelUm];
}

/** Looks an optical path up by its name. Throws `badConfig` when the instrument has none of that name. */
export function opticalPathFor(name: string, instrument: InstrumentConfig): OpticalPath {
  const path = Object.hasOwn(instrument.opticalPaths, name) ? instrument.opticalPaths[name] : undefined;
  const objective = path && instrument.objectives[path.objective];
  if (!path || !objective) {
    const message = `there is no optical path "${name}" in the instrument`;
    throw new NightjarError('badConfig', { file: 'run sheet', problems: [{ line: 1, key: 'opticalPath', message }] });
  }
  const pixelUm = pixelSizeUm(instrument.camera.pixelPitchUm, objective.magnification);
  const { filter, polariser, lampIntensity, exposureMs, gainDb, strayLight } = path;
  return {
    name,
    objective: path.objective,
    turretPosition: objective.turretPosition,
    magnification: objective.magnification,
    numericalAperture: objective.numericalAperture,
    illuminationNa: path.apertureStopNa ?? objective.numericalAperture,
    filter,
    polariser,
    lampIntensity,
    exposureMs,
    gainDb,
    strayLight,
    pixelUm,
    cameraToStageUm: cameraToStageFor(instrument, pixelUm),
    parfocalUm: objective.parfocalUm,
    parcentricUm: { xUm: objective.parcentricXUm, yUm: objective.parcentricYUm },
  };
}

/** What one close-up is made of, under the path that the run sheet names for it. Throws `badConfig` when there is no such path. */
export function closeUpPolicyFor({ opticalPath, focusRangeUm, stackFrames, stackStepUm }: NonNullable<RunSheet['closeUps']>, instrument: InstrumentConfig): CloseUpPolicy {
  const depthOfFieldUm = waveDepthOfFieldUm(opticalPathFor(opticalPath, instrument).numericalAperture);
  return { focusRangeUm, depthOfFieldUm, takeUpUm: instrument.focus.takeUpUm, stackFrames, stackStepUm: stackStepUm ?? depthOfFieldUm / 2 };
}

/** What the safety gate holds every call against. */
export function safetyLimitsFor(instrument: InstrumentConfig): SafetyLimits {
  return instrument.limits;
}

function stagePoint([xUm, yUm]: readonly [number, number]): StagePoint {
  return { xUm, yUm };
}

/** The outline as the planner knows it. */
export function outlineFor(outline: ChipSheet['outline']): Outline {
  if ('rectangle' in outline) {
    const { centreUm, ...sides } = outline.rectangle;
    return { shape: 'rectangle', centreUm: stagePoint(centreUm), ...sides };
  }
  if ('circle' in outline) return { shape: 'circle', centreUm: stagePoint(outline.circle.centreUm), radiusUm: outline.circle.radiusUm };
  return { shape: 'polygon', cornersUm: outline.polygon.map(stagePoint) };
}

function chipToScan(chip: ChipSheet): ChipToScan {
  return {
    name: chip.name,
    outline: outlineFor(chip.outline),
    edgeMarginUm: chip.edgeMarginUm,
    ...(chip.skip.length > 0 ? { skip: chip.skip.map(outlineFor) } : {}),
    waitsForFrame: measuresThickness(chip),
  };
}

/** Kept per tile, in bytes, for the forecast: on the safe side of a dirty chip with several crops of some 50 kB a frame; clean simulated tiles take a tenth. */
const bytesPerTile = 250_000;
/** A lossless picture of a noisy frame takes at most about this share of its samples (measured on simulated frames of 8 bits: 0.6 to 0.7). */
const losslessShare = 0.8;

/** What is kept of one tile on disk, the whole frame included where it is wanted, in bytes. */
function bytesKept({ camera }: InstrumentConfig, rawFrames: boolean): number {
  const samples = camera.widthPx * camera.heightPx * 3;
  return bytesPerTile + (rawFrames ? Math.round(losslessShare * samples * (camera.bits > 8 ? 2 : 1)) : 0);
}

/** What is kept of one close-up at most: a flake that fills its frame, lossless, and a picture of it. */
export function closeUpBytes(instrument: InstrumentConfig): number {
  return bytesKept(instrument, true);
}

/** How fast the instrument is, with the exposure of one of its optical paths. */
export function timingFor(instrument: InstrumentConfig, exposureMs: number, rawFrames: boolean): StageTiming {
  const { stage, focus, camera, limits } = instrument;
  return {
    // Tiles and focus points are reached with the objective down.
    maxSpeedUmPerS: Math.min(stage.maxSpeedUmPerS, limits.maxLowSpeedUmPerS),
    highSpeedUmPerS: stage.maxSpeedUmPerS,
    accelerationUmPerS2: stage.accelerationUmPerS2,
    ...(stage.jerkUmPerS3 === undefined ? {} : { jerkUmPerS3: stage.jerkUmPerS3 }),
    settleMs: stage.settleMs,
    backlashUm: stage.backlashUm,
    ...(stage.playUm ? { playUm: stage.playUm } : {}),
    focusSpeedUmPerS: Math.min(focus.speedUmPerS, limits.maxLowFocusSpeedUmPerS),
    focusAccelerationUmPerS2: focus.accelerationUmPerS2,
    focusSettleMs: focus.settleMs,
    exposureMs,
    readoutMs: camera.readoutMs,
    bytesPerTile: bytesKept(instrument, rawFrames),
  };
}

/** How far the stage may go with the objective down. */
export function lowTravelFor({ limits, focus }: InstrumentConfig): LowTravel {
  return { maxUm: limits.maxLowTravelUm, raiseUm: Math.max(0, limits.safeHeightUm - focus.expectedUm) };
}

/** What the planner is asked: the run sheet's chips under the optical path it names. Throws `badConfig` when there is no such path. */
export function planRequestFor(runSheet: RunSheet, instrument: InstrumentConfig): PlanRequest {
  const path = opticalPathFor(runSheet.opticalPath, instrument);
  const { xMinUm, xMaxUm, yMinUm, yMaxUm, zMinUm, zMaxUm } = instrument.limits;
  const focus = { rangeUm: runSheet.focus.rangeUm, depthOfFieldUm: waveDepthOfFieldUm(path.numericalAperture), takeUpUm: instrument.focus.takeUpUm };
  const timing = timingFor(instrument, path.exposureMs, runSheet.keep.rawFrames);
  return {
    chips: runSheet.chips.map(chipToScan),
    frameWidthPx: instrument.camera.widthPx,
    frameHeightPx: instrument.camera.heightPx,
    cameraToStageUm: path.cameraToStageUm,
    overlap: runSheet.overlap,
    focusPointsPerChip: runSheet.focus.pointsPerChip,
    focus,
    reorderChips: runSheet.chipOrder === 'fastest',
    limits: { xMinUm, xMaxUm, yMinUm, yMaxUm, zMinUm, zMaxUm },
    timing,
    lowTravel: lowTravelFor(instrument),
    ...(instrument.knownFlake ? { ...knownFlakeFor(instrument.knownFlake, path, { focus, timing }) } : {}),
  };
}

/** Frames of one visit to the known flake, each measured by itself; and the time that measuring one takes on a virtual clock. */
export const knownFlakeFrames = 3;
export const knownFlakeReadMs = 300;

/** Where the stage stands under this path for the known flake to be in the middle of the view. */
export function knownFlakeAt({ stageUm: [xUm, yUm] }: KnownFlakeConfig, { parcentricUm }: OpticalPath): StagePoint {
  return { xUm: xUm - parcentricUm.xUm, yUm: yUm - parcentricUm.yUm };
}

/** The scan begins where the stage stands after the first visit. */
function knownFlakeFor(flake: KnownFlakeConfig, path: OpticalPath, plan: Pick<PlanRequest, 'focus' | 'timing'>): Pick<PlanRequest, 'knownFlake' | 'fromUm'> {
  const atUm = knownFlakeAt(flake, path);
  return { fromUm: atUm, knownFlake: { name: flake.name, atUm, visitS: visitSeconds(plan, knownFlakeFrames, knownFlakeReadMs / 1000) } };
}
