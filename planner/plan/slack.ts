import type { StagePoint } from '../units/index.ts';
import { SAME_PLACE_UM } from './kinematics.ts';

/**
 * On which side of its slack each axis stands: an axis that was last driven towards larger numbers carries the sample along at once
 * (`low`: it came from below), one that was last driven back stands the play below the sample (`high`).
 */
export interface SlackSides {
  readonly x: 'low' | 'high';
  readonly y: 'low' | 'high';
}

/** Slack of both axes as measured, in um. */
export type PlayUm = readonly [x: number, y: number];

/** Both axes pushed from below: where positions are what the stage reports. */
export const FROM_BELOW: SlackSides = { x: 'low', y: 'low' };

/** Where the sample is under the objective, from what the stage reports. The inverse of what {@link commandFor} does. */
export function sampleAtUm(reported: StagePoint, sides: SlackSides, [playX, playY]: PlayUm): StagePoint {
  return { xUm: reported.xUm + (sides.x === 'high' ? playX : 0), yUm: reported.yUm + (sides.y === 'high' ? playY : 0) };
}

/**
 * Where to send the stage so that the sample comes to the target, from whichever side: an axis that goes back goes further by the play.
 * An axis that is there already is left alone, on the side where it stands.
 * @param reported where the stage says that it is
 */
export function commandFor(target: StagePoint, reported: StagePoint, sides: SlackSides, play: PlayUm): { readonly commandUm: StagePoint; readonly sides: SlackSides } {
  const at = sampleAtUm(reported, sides, play);
  const x = axisCommand(target.xUm, at.xUm, reported.xUm, sides.x, play[0]);
  const y = axisCommand(target.yUm, at.yUm, reported.yUm, sides.y, play[1]);
  return { commandUm: { xUm: x.um, yUm: y.um }, sides: { x: x.side, y: y.side } };
}

function axisCommand(targetUm: number, atUm: number, reportedUm: number, side: 'low' | 'high', playUm: number): { readonly um: number; readonly side: 'low' | 'high' } {
  if (Math.abs(targetUm - atUm) <= SAME_PLACE_UM) return { um: reportedUm, side };
  return targetUm > atUm ? { um: targetUm, side: 'low' } : { um: targetUm - playUm, side: 'high' };
}
