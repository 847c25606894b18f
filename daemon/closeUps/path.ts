import type { CloseUpPolicy } from '../../planner/closeUps/index.ts';
import type { StagePoint } from '../../planner/units/index.ts';
import { closeUpPolicyFor, opticalPathFor, type OpticalPath } from '../config/resolve.ts';
import type { RunSheet } from '../config/runSheet.ts';
import type { NightContext } from '../run/context.ts';

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

/** Where the stage must stand for a place of the survey to be in the middle of the close-up: the two objectives look at places apart by their parcentric offsets. */
export function standFor({ survey, path }: Pick<CloseUpContext, 'survey' | 'path'>, at: StagePoint): StagePoint {
  return { xUm: at.xUm + survey.parcentricUm.xUm - path.parcentricUm.xUm, yUm: at.yUm + survey.parcentricUm.yUm - path.parcentricUm.yUm };
}

/** The reverse of {@link standFor}: which place of the survey is in the middle when the stage stands here. */
export function seenFrom({ survey, path }: Pick<CloseUpContext, 'survey' | 'path'>, stand: StagePoint): StagePoint {
  return { xUm: stand.xUm - survey.parcentricUm.xUm + path.parcentricUm.xUm, yUm: stand.yUm - survey.parcentricUm.yUm + path.parcentricUm.yUm };
}
