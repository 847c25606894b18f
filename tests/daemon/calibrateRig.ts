import type { Bench } from '../../daemon/calibrate/bench.ts';
import { parseInstrument } from '../../daemon/config/load.ts';
import { opticalPathFor } from '../../daemon/config/resolve.ts';
import type { Turret } from '../../drivers/interfaces/index.ts';
import { guardInstrument } from '../../drivers/safety/gate.ts';
import { cameraToStage } from '../../planner/plan/objective.ts';
import type { Matrix2, StagePoint } from '../../planner/units/index.ts';
import { createSimulatedMicroscope, findTray, makeTray, type StageBehaviour, type Tray } from '../../simulators/index.ts';
import { logMoves, type Command } from '../support/moveLog.ts';

/** Coarse pixels: a field of 350 um in a frame that is rendered in a few ms. */
const pixelPitchUm = 13.8;

/** What the simulated instrument is made with, and what its file says. */
export interface CalibrationCase {
  readonly seed: number;
  readonly tray?: Tray;
  readonly atUm?: StagePoint;
  readonly stage?: Partial<StageBehaviour>;
  /** The camera's true turn and mirror. */
  readonly turnDeg?: number;
  readonly mirrored?: boolean;
  /** The true pixel over the nominal one. */
  readonly pixelShare?: number;
  /** The file's `cameraToStage`; nothing known when left out. */
  readonly cameraToStage?: string;
  /** The second objective's offsets. */
  readonly parfocalUm?: number;
  readonly parcentricUm?: readonly [number, number];
}

/** Flakes and dust all over: there is something to see in every field. */
export function richTray(flakesPerMm2 = 90): Tray {
  const surface = { focusUm: 1003, tiltXMrad: 0.5, tiltYMrad: -0.4, bowUm: 0.3 };
  const dirt = { films: 0, residue: 4, bubbles: 40, dust: 60, scratches: 4 };
  return makeTray('rich', [{ name: 'R-01', centreUm: { xUm: 20_000, yUm: 20_000 }, widthUm: 1600, heightUm: 1600, surface, flakesPerMm2, flakeRadiusUm: [10, 30], dirt }]);
}

export function micrometer(): Tray {
  const tray = findTray('micrometer');
  if (!tray) throw new Error('no micrometer');
  return tray;
}

function configOf(matrix: string) {
  return parseInstrument(
    `instrument: Calibrated
limits: { xMinUm: 0, xMaxUm: 75000, yMinUm: 0, yMaxUm: 50000, zMinUm: 900, zMaxUm: 8000, safeHeightUm: 3000, maxLowTravelUm: 3000 }
stage: { driver: simulated, backlashUm: 15 }
focus: { driver: simulated, expectedUm: 1000 }
camera: { driver: simulated, widthPx: 256, heightPx: 208, pixelPitchUm: ${pixelPitchUm}, transfer: linear }
turret: { driver: simulated }
lamp: { driver: simulated, kind: halogen }
objectives:
  10x: { magnification: 10, numericalAperture: 0.30, turretPosition: 0 }
  20x: { magnification: 20, numericalAperture: 0.45, turretPosition: 1 }
cameraToStage: ${matrix}
opticalPaths:
  survey: { objective: 10x, lampIntensity: 0.6, exposureMs: 8 }
  closer: { objective: 20x, lampIntensity: 0.6, exposureMs: 14 }
`,
    'a test',
  );
}

export interface CalibrationRig {
  readonly bench: Bench;
  /** Commands that passed the safety gate. */
  readonly commands: readonly Command[];
  /** Height of the objective at each change. */
  readonly turrets: readonly number[];
  /** The first objective's true matrix, on the true stage. */
  readonly trueMatrix: Matrix2;
}

export function openCalibration(made: CalibrationCase): CalibrationRig {
  const { seed, tray = richTray(), turnDeg = 0, mirrored = true, pixelShare = 1, parfocalUm = 0, parcentricUm: [parcentricXUm, parcentricYUm] = [0, 0] } = made;
  const config = configOf(made.cameraToStage ?? '{}');
  const matrix = (magnification: number): Matrix2 => cameraToStage((pixelShare * pixelPitchUm) / magnification, turnDeg, mirrored);
  const microscope = createSimulatedMicroscope({
    seed,
    tray,
    camera: config.camera,
    objectives: [
      { magnification: 10, numericalAperture: 0.3, cameraToStageUm: matrix(10) },
      { magnification: 20, numericalAperture: 0.45, cameraToStageUm: matrix(20), parfocalUm, parcentricXUm, parcentricYUm },
    ],
    ...(made.stage ? { stage: made.stage } : {}),
    focus: { zMinUm: config.limits.zMinUm, zMaxUm: config.limits.zMaxUm, startAtUm: config.limits.zMaxUm },
    startMs: 0,
    renderIn: 'here',
  });
  const log = logMoves(microscope.instrument);
  const turrets: number[] = [];
  const { turret } = microscope.instrument;
  const spiedTurret: Turret = {
    positions: turret.positions,
    position: () => turret.position(),
    close: () => turret.close(),
    async moveTo(position) {
      turrets.push(await log.instrument.focus.position());
      return turret.moveTo(position);
    },
  };
  const instrument = guardInstrument({ ...log.instrument, turret: spiedTurret }, config.limits);
  const bench: Bench = { instrument, config, path: opticalPathFor('survey', config), atUm: made.atUm ?? { xUm: 20_000, yUm: 20_000 }, focusRangeUm: 30, signal: new AbortController().signal, tell: () => undefined };
  return { bench, commands: log.commands, turrets, trueMatrix: matrix(10) };
}
