import { opticalPathFor, type OpticalPath } from '../config/resolve.ts';
import { calibrateBacklash } from './backlash.ts';
import type { Bench, Procedure } from './bench.ts';
import { leaveSafe } from './bench.ts';
import { calibrateCamera } from './camera.ts';
import { calibrateLinearity } from './linearity.ts';
import { calibrateObjective } from './objectives.ts';
import { calibrateScale } from './scale.ts';
import { linearityText } from '../linearity/words.ts';
import { backlashText, cameraText, objectiveText, scaleText } from './words.ts';

export interface CalibrationWish {
  readonly procedure: Procedure;
  /** Optical paths of the objectives to be held against the bench's own. */
  readonly others: readonly string[];
  /** True distance of a micrometer's lines. */
  readonly pitchUm: number;
}

/**
 * One calibration from the first move to the last; resolves with what a person reads of it. However it ends, the objective is up and the
 * lamp off afterwards. Throws `calibrationRefused`, and what the devices throw.
 */
export async function calibrate(bench: Bench, wish: CalibrationWish): Promise<string> {
  try {
    return await procedures[wish.procedure](bench, wish);
  } finally {
    await leaveSafe(bench.instrument, bench.config.limits.safeHeightUm);
  }
}

const procedures: { readonly [P in Procedure]: (bench: Bench, wish: CalibrationWish) => Promise<string> } = {
  camera: async (bench) => cameraText(await calibrateCamera(bench), bench.path),
  backlash: async (bench) => backlashText(await calibrateBacklash(bench)),
  objectives: async (bench, { others }) => {
    const texts: string[] = [];
    for (const name of others) texts.push(objectiveText(await calibrateObjective(bench, opticalPathFor(name, bench.config))));
    return texts.join('\n\n');
  },
  linearity: async (bench) => linearityText(await calibrateLinearity(bench)),
  scale: async (bench, { pitchUm }) => scaleText(await calibrateScale(bench, pitchUm), bench.path, bench.config.cameraToStage.matrix !== undefined),
};

/** The first optical path of each objective that is not this one's. */
export function otherPaths(bench: Pick<Bench, 'config'>, path: OpticalPath): readonly string[] {
  const seen = new Set([path.objective]);
  return Object.entries(bench.config.opticalPaths).flatMap(([name, { objective }]) => {
    if (seen.has(objective)) return [];
    seen.add(objective);
    return [name];
  });
}
