import { cropFrame } from '../../drivers/frames/cropFrame.ts';
import type { CameraFrame, Region } from '../../drivers/interfaces/index.ts';
import { stackHeightsUm } from '../../planner/closeUps/index.ts';
import type { PlannedChip } from '../../planner/plan/types.ts';
import type { FramePose, StagePoint } from '../../planner/units/index.ts';
import { NightjarError } from '../errors/index.ts';
import { goTo, reachZ } from '../run/approach.ts';
import { autofocus } from '../run/autofocus.ts';
import { setWindow } from '../run/focusPoint.ts';
import { poseOf } from '../run/pose.ts';
import { regionAbout } from './part.ts';
import { seenFrom, standFor, type CloseUpContext } from './path.ts';
import { sharpnessFor } from './sharpness.ts';

/** What a close-up is taken of. */
export interface ShotTarget {
  readonly chip: PlannedChip;
  readonly outlineUm: readonly StagePoint[];
  readonly atUm: StagePoint;
  /** Where focus is expected, for this objective. */
  readonly expectedZUm: number;
}

/** The sharpest frame of a stack. */
export interface Shot {
  readonly frame: CameraFrame;
  readonly pose: FramePose;
  readonly zUm: number;
  /** Peak of the search, for the next one. */
  readonly focusZUm: number;
  readonly sharpness: number;
  readonly leastSharpness: number;
}

/** Rim of bare oxide about a flake that focus is judged with. */
const rimUm = 4;

/** Goes to a flake, focuses on it, takes frames through focus and keeps that which shows the flake itself sharpest. Throws `focusNotFound`. */
export async function shoot(context: CloseUpContext, target: ShotTarget, signal: AbortSignal): Promise<Shot> {
  const { instrument } = context;
  const travel = { ...context.travel, overUm: target.chip.outlineUm };
  const standsAtUm = await goTo(instrument, standFor(context, target.atUm), target.expectedZUm, travel, signal);
  const pose = poseOf(context, seenFrom(context, standsAtUm));
  const region = regionAbout(target.outlineUm, rimUm, pose);
  await setWindow(context, region);
  const focusZUm = await search(context, target, signal);
  await setWindow(context);
  return { ...(await stack(context, focusZUm, region, signal)), pose, focusZUm };
}

/** A small search, and where that finds nothing, one as wide as the first of a chip. */
async function search({ instrument, config, policy, sheet, travel, path }: CloseUpContext, { chip, expectedZUm }: ShotTarget, signal: AbortSignal): Promise<number> {
  const { zMinUm, zMaxUm } = config.limits;
  for (const rangeUm of [policy.focusRangeUm, Math.max(policy.focusRangeUm, sheet.focus.rangeUm)]) {
    const request = { centreUm: expectedZUm, rangeUm, depthOfFieldUm: policy.depthOfFieldUm, takeUpUm: policy.takeUpUm, zMinUm, zMaxUm };
    const focused = await autofocus(instrument, request, travel.focusSettleMs, signal, sharpnessFor(path));
    if (focused.ok) return focused.peak.zUm;
  }
  throw new NightjarError('focusNotFound', { chip: chip.name, triedUm: Math.max(policy.focusRangeUm, sheet.focus.rangeUm) });
}

/** Frame after frame from below, each judged by the flake's own part. */
async function stack({ instrument, config, policy, travel, path, requireNew }: CloseUpContext, middleUm: number, region: Region, signal: AbortSignal): Promise<Omit<Shot, 'pose' | 'focusZUm'>> {
  const { zMinUm, zMaxUm } = config.limits;
  const heights = stackHeightsUm(middleUm, policy).filter((zUm) => zUm >= zMinUm && zUm <= zMaxUm);
  let best: { readonly frame: CameraFrame; readonly zUm: number; readonly sharpness: number } | undefined;
  let leastSharpness = Infinity;
  const measure = sharpnessFor(path);
  for (const zUm of heights) {
    const atZUm = await reachZ(instrument, zUm, policy.takeUpUm, signal);
    await instrument.clock.sleep(travel.focusSettleMs, signal);
    const frame = await instrument.camera.snap(signal);
    requireNew(frame);
    const sharpness = measure(cropFrame(frame, region));
    leastSharpness = Math.min(leastSharpness, sharpness);
    if (!best || sharpness > best.sharpness) best = { frame, zUm: atZUm, sharpness };
  }
  if (!best) throw new NightjarError('internal', { reason: 'a stack has no height within the limits' });
  return { ...best, leastSharpness };
}
