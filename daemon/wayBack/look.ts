import type { CameraFrame } from '../../drivers/interfaces/index.ts';
import { diagonalUm } from '../../planner/focus/frameFocus.ts';
import { LARGEST_TILT_MRAD, LEAST_REACH } from '../../planner/focus/prediction.ts';
import { align } from '../../planner/frames/alignment.ts';
import { chipEdges } from '../../planner/frames/chipEdges.ts';
import { stageCorner, type StageCorner } from '../../planner/frames/cornerFrame.ts';
import { toChip, toStage, type ChipFrame } from '../../planner/frames/chipFrame.ts';
import type { GreyPicture } from '../../planner/frames/greyPicture.ts';
import { binned, expectedView, LEAST_LIKENESS, shiftOnStageUm, withoutRim } from '../../planner/frames/placedPicture.ts';
import { distanceUm, type ChipPoint, type FramePose, type StagePoint } from '../../planner/units/index.ts';
import { NightjarError } from '../errors/index.ts';
import { approachFromBelow } from '../run/approach.ts';
import { autofocus } from '../run/autofocus.ts';
import { depthOfFieldOf, searchRequest } from '../run/focusPoint.ts';
import type { MappingContext } from '../run/focusMapping.ts';
import { greyPicture } from '../vision/greyPicture.ts';
import { compared, comparedWidthPx, levelRadiusPx, type ChipPictures } from './chipPictures.ts';

/** What looking at a place needs: the instrument as it is now, and what the chip looked like. */
export interface Looking {
  readonly context: Pick<MappingContext, 'instrument' | 'config' | 'path' | 'travel' | 'sheet'>;
  readonly pictures: ChipPictures;
  /** How the chip lay on the stage when the pictures were taken. */
  readonly then: ChipFrame;
  /** The chip's edge, in its own frame. */
  readonly outline: readonly ChipPoint[];
  /** Where focus was found last, in this remounting. */
  focusedAt?: { readonly atUm: StagePoint; readonly zUm: number };
}

/** What was seen at a place, against what should be. */
export interface Seen {
  /** How far the chip lies from where it was believed, in stage um. */
  readonly offUm: StagePoint;
  /** How alike the two pictures are, -1 to 1: see `likeness`. */
  readonly likeness: number;
  readonly isSame: boolean;
  /** Share of the view that earlier pictures show. */
  readonly covered: number;
  /** There was something to focus on. */
  readonly isFocused: boolean;
}

/** Marks are good to 30 um; a chip that lies farther off than this, and the stage's scale error over the way, is another one. */
export const marksReachUm = 45;
/** With less of the view known from before than this, nothing is said. */
const leastCovered = 0.15;

/**
 * Goes to a place of a chip that is believed to lie as `now` says, focuses, and holds what is seen there against the pictures of that night.
 * The objective is never lowered while the stage moves, and both axes arrive from their low side.
 * @param reachUm how far the chip may lie from where it is believed; what is found farther off is not the place
 */
export async function lookAt(looking: Looking, chipUm: ChipPoint, now: ChipFrame, reachUm: number, signal: AbortSignal): Promise<Seen> {
  const { pictures, then } = looking;
  const { frame, pose, isFocused } = await photograph(looking, toStage(now, chipUm), signal);
  const live = compared({ picture: greyPicture(frame), pose });
  const placeThen = toStage(then, toChip(now, pose.centreUm));
  const halfUm = diagonalUm(live.pose) / 2;
  const view = expectedView(live.pose, now, await pictures.near(placeThen, halfUm), then);
  const m = live.pose.cameraToStageUm;
  const rimUm = marksReachUm + levelRadiusPx * Math.hypot(m[0], m[2]);
  const inside = (picture: GreyPicture): GreyPicture => withoutRim({ picture, pose: live.pose }, now, looking.outline, rimUm);
  return { ...compare(inside(view.picture), inside(live.picture), live.pose, view.covered, reachUm), isFocused };
}

/** Goes near one of the chip's corners, focuses, and reads the corner off the edges that are in the picture. Throws `cornerNotFound`. */
export async function lookForCorner(looking: Looking, chip: string, aboutUm: StagePoint, signal: AbortSignal): Promise<StageCorner> {
  const { frame, pose } = await photograph(looking, aboutUm, signal);
  const { picture, pose: coarse } = binned({ picture: greyPicture(frame), pose }, Math.max(1, Math.floor(frame.widthPx / comparedWidthPx)));
  const edges = chipEdges(picture);
  if (!edges.ok) throw new NightjarError('cornerNotFound', { chip, edges: edges.refusal.code === 'oneEdge' ? 1 : 0 });
  return stageCorner(picture, coarse, edges);
}

/** Goes to a place, focuses as well as there is something to focus on, and takes a frame. */
async function photograph(looking: Looking, targetUm: StagePoint, signal: AbortSignal): Promise<{ readonly frame: CameraFrame; readonly pose: FramePose; readonly isFocused: boolean }> {
  const { context } = looking;
  const { instrument } = context;
  const expected = expectation(looking, targetUm);
  const { travel, config } = context;
  await approachFromBelow(instrument, targetUm, expected.centreUm + expected.rangeUm, travel, config.limits, signal);
  await instrument.clock.sleep(Math.max(travel.settleMs, travel.focusSettleMs), signal);
  const focused = await autofocus(instrument, searchRequest(context, expected), travel.focusSettleMs, signal);
  if (focused.ok) looking.focusedAt = { atUm: targetUm, zUm: focused.peak.zUm };
  const frame = await instrument.camera.snap(signal);
  const pose = { centreUm: await instrument.stage.position(), cameraToStageUm: context.path.cameraToStageUm, widthPx: frame.widthPx, heightPx: frame.heightPx };
  return { frame, pose, isFocused: focused.ok };
}

/** What two pictures of one place say: that they are alike, and by how much one lies off the other. */
function compare(expected: GreyPicture, live: GreyPicture, pose: FramePose, covered: number, reachUm: number): Omit<Seen, 'isFocused'> {
  if (covered < leastCovered) return { offUm: { xUm: 0, yUm: 0 }, likeness: 0, isSame: false, covered };
  const pixelUm = Math.hypot(pose.cameraToStageUm[0], pose.cameraToStageUm[2]);
  const found = align(expected, live, reachUm / pixelUm);
  return { offUm: shiftOnStageUm(pose, found), likeness: found.likeness, isSame: found.likeness >= LEAST_LIKENESS, covered };
}

/** Focus is sought over the whole range at first, later round where it was found, as far as the steepest chip rises on the way. */
function expectation({ context, focusedAt }: Looking, atUm: StagePoint): { readonly centreUm: number; readonly rangeUm: number } {
  const { rangeUm } = context.sheet.focus;
  if (!focusedAt) return { centreUm: context.config.focus.expectedUm + context.path.parfocalUm, rangeUm };
  const risesUm = (LARGEST_TILT_MRAD / 1000) * distanceUm(focusedAt.atUm, atUm);
  return { centreUm: focusedAt.zUm, rangeUm: Math.min(rangeUm, risesUm + LEAST_REACH * depthOfFieldOf(context)) };
}
