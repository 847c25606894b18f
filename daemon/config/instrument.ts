import { z } from 'zod';
import { materialIds } from '../../planner/optics/index.ts';
import { camera, focus, lamp, lines, stage, turret } from './devices.ts';
import { exposureMs, positive, um } from './quantities.ts';

const name = z.string().min(1).max(60);
/** Of the nominal pixel. */
const share = z.number().min(-10).max(10);

const limits = z
  .strictObject({
    xMinUm: um('soft limit of the stage'),
    xMaxUm: um('soft limit of the stage'),
    yMinUm: um('soft limit of the stage'),
    yMaxUm: um('soft limit of the stage'),
    zMinUm: um('the objective is never lower than this'),
    zMaxUm: um('upper end of the focus drive'),
    safeHeightUm: um('at or above this height the objective clears every chip and holder'),
    maxLowTravelUm: positive('longest sideways move below the safe height').default(3000),
    maxLowSpeedUmPerS: positive('fastest sideways move below the safe height').default(10_000),
    maxLowFocusSpeedUmPerS: positive('fastest focus move below the safe height').default(500),
    maxLampIntensity: z.number().min(0).max(1).describe('largest lamp intensity, 0 to 1').default(1),
  })
  .describe('what no run, page or driver may go beyond');

const objective = z.strictObject({
  magnification: positive('as written on it'),
  numericalAperture: z.number().min(0.001).max(1.6),
  turretPosition: z.number().int().min(0),
  parfocalUm: um('focus of this objective against the first').default(0),
  parcentricXUm: um('picture centre of this objective against the first').default(0),
  parcentricYUm: um('picture centre of this objective against the first').default(0),
});

const opticalPath = z.strictObject({
  objective: name.describe('a name under `objectives`'),
  apertureStopNa: z.number().min(0.001).max(1.6).describe('NA of the illuminated cone; the objective\'s when left out').optional(),
  filter: name.default('none'),
  polariser: name.default('none'),
  lampIntensity: z.number().min(0).max(1),
  exposureMs: exposureMs('exposure'),
  gainDb: z.number().min(0).max(48).default(0),
  strayLight: z
    .number()
    .min(0)
    .max(0.3)
    .describe('share of stray light in the level of bare oxide, where somebody measured it: a light trap or the hole of a holder in the picture, dark level taken off; 0 leaves it to the contrast ladder')
    .default(0),
});

const knownFlake = z.strictObject({
  name,
  stageUm: z.tuple([z.number(), z.number()]).describe('[x, y] in stage um, where the stage stands with the flake in the middle of the view of the first objective'),
  material: z.enum(materialIds),
  oxideNm: z.number().min(0).max(2000).describe('what the wafer box of the control sample says'),
  layers: z.number().int().min(1).max(10),
  focusUm: um('where it is usually in focus with the first objective; focus.expectedUm when left out').optional(),
  withinUm: positive('nothing farther than this from the place is taken for it').max(500).default(60),
  note: z.string().max(500).describe('anything that helps to find it again by hand').default(''),
});

/** The schema of `instrument.yaml`: the microscope, its limits and its optical paths. */
export const instrumentSchema = z.strictObject({
  instrument: name.describe('what the microscope is called'),
  limits,
  lines: lines.describe('the lines by which controllers are reached, each by a name of your own').default({}),
  stage,
  focus,
  camera,
  turret,
  lamp,
  objectives: z.record(name, objective),
  cameraToStage: z
    .strictObject({
      rotationDeg: z.number().min(-360).max(360).default(0),
      mirrored: z.boolean().describe('rows run against the stage\'s y when seen through the camera').default(false),
      matrix: z
        .tuple([share, share, share, share])
        .describe('as measured: columns and rows on the stage in units of the nominal pixel, row by row; takes the place of rotationDeg and mirrored')
        .optional(),
    })
    .describe('how the camera\'s pixels lie on the stage; the nominal pixel is pixel pitch over magnification'),
  opticalPaths: z.record(name, opticalPath),
  knownFlake: knownFlake.describe('a flake of a control sample that stays on the stage: every night looks at it first and last, and tells how the instrument has drifted').optional(),
  simulator: z
    .strictObject({
      seed: z.number().int().min(0),
      tray: name.describe('a tray that the simulator knows').default('demo'),
      remounted: z
        .record(name, z.strictObject({ turnDeg: z.number().min(-360).max(360), shiftUm: z.tuple([um('along x'), um('along y')]) }))
        .describe('chips of the tray that were taken off and laid down again, by name: turned about their middle, then shifted')
        .optional(),
    })
    .describe('only for simulated devices')
    .optional(),
});

export type InstrumentConfig = z.infer<typeof instrumentSchema>;
export type KnownFlakeConfig = z.infer<typeof knownFlake>;
export type OpticalPathConfig = z.infer<typeof opticalPath>;
