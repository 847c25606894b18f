import type { CloseUpPolicy } from '../../planner/closeUps/index.ts';
import type { FramePose, StagePoint } from '../../planner/units/index.ts';
import { closeUpPolicyFor, opticalPathFor, type OpticalPath } from '../config/resolve.ts';
import type { RunSheet } from '../config/runSheet.ts';
import { raise } from '../run/approach.ts';
import type { NightContext } from '../run/context.ts';
import { configureCamera } from '../run/prepare.ts';

/** A night as it is seen through the optical path of its close-ups. */
export interface CloseUpContext extends NightContext {
  /** The path that the tiles were taken with: places are told in its frame. */
  readonly survey: OpticalPath;
  readonly wanted: NonNullable<RunSheet['closeUps']>;
  readonly policy: CloseUpPolicy;
}

/** Undefined where the run sheet asks for no close-ups. */
export function closeUpContext(night: NightContext): CloseUpContext | undefined {
  const wanted = night.sheet.closeUps;
  if (!wanted) return undefined;
  return { ...night, survey: night.path, path: opticalPathFor(wanted.opticalPath, night.config), wanted, policy: closeUpPolicyFor(wanted, night.config) };
}

/**
 * Makes the instrument ready for the close-ups' path: the objective goes up to the safe height before the turret turns, then lamp and
 * camera. What is right already is left alone.
 */
export async function changeToCloseUps({ instrument, path, travel }: CloseUpContext, signal: AbortSignal): Promise<void> {
  if ((await instrument.turret.position()) !== path.turretPosition) {
    await raise(instrument, travel.safeHeightUm, signal);
    await instrument.turret.moveTo(path.turretPosition);
  }
  if ((await instrument.lamp.intensity()) !== path.lampIntensity) await instrument.lamp.setIntensity(path.lampIntensity);
  await configureCamera(instrument.camera, { exposureMs: path.exposureMs, gainDb: path.gainDb });
}

/** Where the stage must stand for a place of the survey to be in the middle of the close-up: the two objectives look at places apart by their parcentric offsets. */
export function standFor({ survey, path }: Pick<CloseUpContext, 'survey' | 'path'>, at: StagePoint): StagePoint {
  return { xUm: at.xUm + survey.parcentricUm.xUm - path.parcentricUm.xUm, yUm: at.yUm + survey.parcentricUm.yUm - path.parcentricUm.yUm };
}

/** The reverse of {@link standFor}: which place of the survey is in the middle when the stage stands here. */
export function seenFrom({ survey, path }: Pick<CloseUpContext, 'survey' | 'path'>, stand: StagePoint): StagePoint {
  return { xUm: stand.xUm - survey.parcentricUm.xUm + path.parcentricUm.xUm, yUm: stand.yUm - survey.parcentricUm.yUm + path.parcentricUm.yUm };
}

/** How a close-up about this place of the survey lies on the stage. */
export function poseAbout({ config, path }: Pick<CloseUpContext, 'config' | 'path'>, centreUm: StagePoint): FramePose {
  return { centreUm, cameraToStageUm: path.cameraToStageUm, widthPx: config.camera.widthPx, heightPx: config.camera.heightPx };
}
