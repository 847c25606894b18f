import { boundingBox } from '../../planner/geometry/polygon.ts';
import type { PlannedChip } from '../../planner/plan/types.ts';
import type { InstrumentConfig } from '../config/instrument.ts';
import type { ChipSheet } from '../config/runSheet.ts';
import type { InventedChip } from '../instrument/open.ts';

/** Frames of the twin are so wide: wide enough to be focused and judged, small enough for a night in seconds. */
const TWIN_WIDTH_PX = 256;
/** Exposure times intensity at which the simulated camera sees bare oxide well through an objective of NA 0.3 and 10 times; as in the demo's instrument file. */
const WELL_LIT_MS = 4.8;

/** Light through an objective goes with the square of NA over magnification (epi-illumination of a field, any textbook of microscopy). */
function lightOf(config: InstrumentConfig, objective: string): number {
  const { numericalAperture = 0.3, magnification = 10 } = config.objectives[objective] ?? {};
  return (numericalAperture / magnification) ** 2;
}

/** The objective at which the simulated camera's exposure is calibrated. */
function firstObjective({ objectives }: InstrumentConfig): string {
  return Object.entries(objectives).reduce<readonly [string, number]>((first, [name, { turretPosition }]) => (turretPosition < first[1] ? [name, turretPosition] : first), ['', Infinity])[0];
}

/**
 * The same instrument with every driver simulated: speeds, waits, limits, objectives and the size of the field as configured, the field in
 * fewer, larger pixels. The lamp is set so that the simulated camera is well lit; exposures, which cost time, stay.
 */
export function twinOf(config: InstrumentConfig): InstrumentConfig {
  const { camera } = config;
  const widthPx = Math.min(camera.widthPx, TWIN_WIDTH_PX);
  const coarser = camera.widthPx / widthPx;
  const first = lightOf(config, firstObjective(config));
  const opticalPaths = Object.fromEntries(Object.entries(config.opticalPaths).map(([name, path]) => [name, { ...path, gainDb: 0, lampIntensity: Math.min(1, (WELL_LIT_MS * first) / lightOf(config, path.objective) / path.exposureMs) }]));
  const { fieldStop, ...focus } = config.focus;
  return {
    ...config,
    limits: { ...config.limits, maxLampIntensity: 1 },
    lines: {},
    stage: { ...config.stage, driver: 'simulated' },
    focus: { ...focus, driver: 'simulated', ...(fieldStop ? { fieldStop: { ...fieldStop, driver: 'simulated' } } : {}) },
    camera: { ...camera, driver: 'simulated', widthPx, heightPx: Math.max(64, Math.round(camera.heightPx / coarser)), pixelPitchUm: camera.pixelPitchUm * coarser, bits: 8, transfer: 'linear', checkLinearity: false },
    turret: { driver: 'simulated' },
    lamp: { driver: 'simulated', kind: config.lamp.kind },
    opticalPaths,
    simulator: { seed: config.simulator?.seed ?? 1, tray: 'demo' },
  };
}

const simulatedMaterials: ReadonlySet<string> = new Set(['graphene', 'hbn', 'mos2']);
const isSimulated = (name: string): name is 'graphene' | 'hbn' | 'mos2' => simulatedMaterials.has(name);

/** A chip as the run sheet says, with invented flakes and dust, at the expected height and a little tilted; a polygon or circle becomes its bounding rectangle. */
export function inventedChip({ name, outlineUm }: PlannedChip, sheet: ChipSheet | undefined, expectedUm: number): InventedChip {
  const rectangle = sheet && 'rectangle' in sheet.outline ? sheet.outline.rectangle : undefined;
  const { xMinUm, xMaxUm, yMinUm, yMaxUm } = boundingBox(outlineUm);
  const place = rectangle
    ? { centreUm: { xUm: rectangle.centreUm[0], yUm: rectangle.centreUm[1] }, widthUm: rectangle.widthUm, heightUm: rectangle.heightUm, angleDeg: rectangle.angleDeg }
    : { centreUm: { xUm: (xMinUm + xMaxUm) / 2, yUm: (yMinUm + yMaxUm) / 2 }, widthUm: xMaxUm - xMinUm, heightUm: yMaxUm - yMinUm, angleDeg: 0 };
  return {
    name,
    ...place,
    material: sheet && isSimulated(sheet.material) ? sheet.material : 'graphene',
    nominalOxideNm: sheet?.oxideNm ?? 290,
    surface: { focusUm: expectedUm + 4, tiltXMrad: 0.5, tiltYMrad: -0.4, bowUm: 0.5 },
  };
}
