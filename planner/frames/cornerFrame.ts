import { pixelToStage } from '../units/index.ts';
import type { ChipPoint, FramePose, StagePoint } from '../units/index.ts';
import { toStage } from './chipFrame.ts';
import type { ChipFrame } from './chipFrame.ts';
import type { EdgesResult } from './chipEdges.ts';
import type { GreyPicture } from './greyPicture.ts';

/** A chip's corner as it lies on the stage: where it is, and the directions of its two edges, the chip between them counter-clockwise. */
export interface StageCorner {
  readonly atUm: StagePoint;
  readonly fromRad: number;
  readonly toRad: number;
}

/** So far from the corner it is looked on which side of the edges the chip lies, in pixels. */
const LOOK_PX = 25;
/** A corner of the outline whose angle differs from what is seen by more than this is another one. */
const SAME_ANGLE_RAD = (4 * Math.PI) / 180;

/** Which of the four sectors between two edges is the chip (the brightest), on the stage. */
export function stageCorner(picture: GreyPicture, pose: FramePose, { edges, corner }: Extract<EdgesResult, { ok: true }>): StageCorner {
  const along = edges.map(({ angleRad }) => angleRad + Math.PI / 2);
  const rays = along.flatMap((angle) => [angle, angle + Math.PI]).sort((a, b) => wrap(a) - wrap(b));
  const sectors = rays.map((ray, i) => ({ ray, next: rays[(i + 1) % rays.length] ?? ray }));
  const brightness = sectors.map(({ ray, next }) => {
    const middle = ray + wrap(next - ray) / 2;
    return valueAt(picture, corner.colPx + LOOK_PX * Math.cos(middle), corner.rowPx + LOOK_PX * Math.sin(middle));
  });
  const best = sectors[brightness.indexOf(Math.max(...brightness))] ?? { ray: 0, next: 0 };
  const atUm = pixelToStage(pose, corner);
  const directionOf = (ray: number): number => {
    const end = pixelToStage(pose, { colPx: corner.colPx + 100 * Math.cos(ray), rowPx: corner.rowPx + 100 * Math.sin(ray) });
    return Math.atan2(end.yUm - atUm.yUm, end.xUm - atUm.xUm);
  };
  const [a, b] = [directionOf(best.ray), directionOf(best.next)];
  // A mirrored camera turns counter-clockwise in the picture into clockwise on the stage.
  return wrap(b - a) < Math.PI ? { atUm, fromRad: a, toRad: b } : { atUm, fromRad: b, toRad: a };
}

/**
 * How a chip may lie, from one of its corners: a frame for each corner of its outline that has about the angle which is seen. Which of them it
 * is, is for the pictures to say.
 * @param outline the chip's edge in its own frame, counter-clockwise
 */
export function framesFromCorner(seen: StageCorner, outline: readonly ChipPoint[]): readonly ChipFrame[] {
  return outline.flatMap((vertex, i) => {
    const next = outline[(i + 1) % outline.length] ?? vertex;
    const before = outline[(i + outline.length - 1) % outline.length] ?? vertex;
    const fromRad = Math.atan2(next.yUm - vertex.yUm, next.xUm - vertex.xUm);
    const toRad = Math.atan2(before.yUm - vertex.yUm, before.xUm - vertex.xUm);
    const differs = wrap(seen.toRad - seen.fromRad) - wrap(toRad - fromRad);
    if (Math.abs(differs) > SAME_ANGLE_RAD) return [];
    // Both edges tell the turn: their mean.
    const turnRad = seen.fromRad - fromRad + differs / 2;
    const angleDeg = (turnRad * 180) / Math.PI;
    const turned = toStage({ originUm: { xUm: 0, yUm: 0 }, angleDeg }, vertex);
    return [{ originUm: { xUm: seen.atUm.xUm - turned.xUm, yUm: seen.atUm.yUm - turned.yUm }, angleDeg }];
  });
}

/** An angle from 0 to a full turn. */
function wrap(rad: number): number {
  return rad - 2 * Math.PI * Math.floor(rad / (2 * Math.PI));
}

function valueAt({ widthPx, heightPx, data }: GreyPicture, colPx: number, rowPx: number): number {
  const clamp = (value: number, most: number): number => Math.max(0, Math.min(most - 1, Math.floor(value)));
  return data[clamp(rowPx, heightPx) * widthPx + clamp(colPx, widthPx)] as number;
}
