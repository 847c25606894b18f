import { distanceUm, meanPoint } from '../units/index.ts';
import type { ChipPoint } from '../units/index.ts';
import { chipFrameFromMarks, toStage } from './chipFrame.ts';
import type { ChipFrame, MarkPair, MarksRefusal as TwoMarksRefusal } from './chipFrame.ts';

/** Why marks do not settle a chip's frame. Marks count from 0, in the order given. */
export type MarksRefusal =
  | TwoMarksRefusal
  | { readonly code: 'tooFewMarks'; readonly marks: number; readonly least: number }
  /** All marks lie (nearly) on one line: a mirrored chip would fit as well. `widthUm` is their spread across it. */
  | { readonly code: 'marksOnOneLine'; readonly widthUm: number; readonly leastUm: number }
  /** They fit when the chip is seen from behind: a coordinate with the wrong sign, or the instrument's handedness is wrong. */
  | { readonly code: 'marksMirrored'; readonly awayUm: number }
  /** They fit when the places of these two are exchanged. */
  | { readonly code: 'marksSwapped'; readonly first: number; readonly second: number }
  /** All but this one agree. */
  | { readonly code: 'markAstray'; readonly mark: number; readonly awayUm: number }
  /** They do not agree, and no single mark is to blame. */
  | { readonly code: 'marksDisagree'; readonly worst: number; readonly awayUm: number; readonly allowedUm: number };

export type ChipFrameFit =
  | {
      readonly ok: true;
      readonly frame: ChipFrame;
      /** Distance of each mark on the stage from where the frame has it. */
      readonly residualsUm: readonly number[];
      /** Lengths on the stage over those on the chip, as the marks have them; the frame itself keeps a scale of 1, for a chip does not grow. */
      readonly stageScale: number;
    }
  | { readonly ok: false; readonly refusal: MarksRefusal };

/** Marks spread less than this across their line do not tell a mirrored chip from a true one at some um of repeatability. */
const LEAST_WIDTH_UM = 200;
/** From so many on, the others agree without one of them by more than chance. */
const LEAST_FOR_ASTRAY = 4;

/**
 * The chip frame from two marks or more. Two: see `chipFrameFromMarks`; their distance is the only check there is. Three and more, not on
 * one line: the turn and shift that leave the least sum of squared distances (orthogonal Procrustes problem in the plane, Schonemann,
 * Psychometrika 31 (1966) 1, from memory; here in closed form). Marks that do not fit are told apart: mirrored, two exchanged, one astray.
 * @param allowedUm distance from its place that a mark may have
 */
export function fitChipFrame(marks: readonly MarkPair[], allowedUm: number): ChipFrameFit {
  const [first, second] = marks;
  if (!first || !second) return refused({ code: 'tooFewMarks', marks: marks.length, least: 2 });
  if (marks.length === 2) return fromTwo(first, second, allowedUm);
  const widthUm = widthOf(marks.map((mark) => mark.chipUm));
  if (!(widthUm >= LEAST_WIDTH_UM)) return refused({ code: 'marksOnOneLine', widthUm, leastUm: LEAST_WIDTH_UM });
  const fit = leastSquares(marks);
  return worstOf(fit) <= allowedUm ? { ok: true, ...fit } : refused(whyNot(marks, fit, allowedUm));
}

function refused(refusal: MarksRefusal): ChipFrameFit {
  return { ok: false, refusal };
}

function fromTwo(first: MarkPair, second: MarkPair, allowedUm: number): ChipFrameFit {
  const result = chipFrameFromMarks(first, second, allowedUm);
  if (!result.ok) return result;
  const residualsUm = [first, second].map((mark) => distanceUm(toStage(result.frame, mark.chipUm), mark.stageUm));
  return { ok: true, frame: result.frame, residualsUm, stageScale: distanceUm(first.stageUm, second.stageUm) / distanceUm(first.chipUm, second.chipUm) };
}

interface Fit {
  readonly frame: ChipFrame;
  readonly residualsUm: readonly number[];
  readonly stageScale: number;
}

function leastSquares(marks: readonly MarkPair[]): Fit {
  const chip = meanPoint(marks.map((mark) => mark.chipUm));
  const stage = meanPoint(marks.map((mark) => mark.stageUm));
  let along = 0;
  let across = 0;
  let square = 0;
  for (const { chipUm, stageUm } of marks) {
    const [cx, cy] = [chipUm.xUm - chip.xUm, chipUm.yUm - chip.yUm];
    const [sx, sy] = [stageUm.xUm - stage.xUm, stageUm.yUm - stage.yUm];
    along += cx * sx + cy * sy;
    across += cx * sy - cy * sx;
    square += cx * cx + cy * cy;
  }
  const turn = Math.atan2(across, along);
  const [cos, sin] = [Math.cos(turn), Math.sin(turn)];
  const originUm = { xUm: stage.xUm - (chip.xUm * cos - chip.yUm * sin), yUm: stage.yUm - (chip.xUm * sin + chip.yUm * cos) };
  const frame = { originUm, angleDeg: (turn * 180) / Math.PI };
  return { frame, residualsUm: marks.map(({ chipUm, stageUm }) => distanceUm(toStage(frame, chipUm), stageUm)), stageScale: Math.hypot(along, across) / square };
}

function worstOf({ residualsUm }: Fit): number {
  return Math.max(...residualsUm);
}

function whyNot(marks: readonly MarkPair[], fit: Fit, allowedUm: number): MarksRefusal {
  const fits = (others: readonly MarkPair[]): boolean => worstOf(leastSquares(others)) <= allowedUm;
  if (fits(marks.map((mark) => ({ ...mark, chipUm: { xUm: mark.chipUm.xUm, yUm: -mark.chipUm.yUm } })))) return { code: 'marksMirrored', awayUm: worstOf(fit) };
  for (const [i, one] of marks.entries()) {
    for (const [k, other] of marks.entries()) {
      if (k <= i) continue;
      const swapped = marks.map((mark, m) => (m === i ? { ...one, stageUm: other.stageUm } : m === k ? { ...other, stageUm: one.stageUm } : mark));
      if (fits(swapped)) return { code: 'marksSwapped', first: i, second: k };
    }
  }
  return astray(marks, allowedUm) ?? { code: 'marksDisagree', worst: fit.residualsUm.indexOf(worstOf(fit)), awayUm: worstOf(fit), allowedUm };
}

/** The mark without which the others agree best, if they then agree and still settle the frame. */
function astray(marks: readonly MarkPair[], allowedUm: number): MarksRefusal | undefined {
  if (marks.length < LEAST_FOR_ASTRAY) return undefined;
  const without = marks.map((mark, i) => {
    const others = marks.filter((_, k) => k !== i);
    const fit = leastSquares(others);
    const isSettled = widthOf(others.map((other) => other.chipUm)) >= LEAST_WIDTH_UM && worstOf(fit) <= allowedUm;
    return { mark: i, worstUm: isSettled ? worstOf(fit) : Infinity, awayUm: distanceUm(toStage(fit.frame, mark.chipUm), mark.stageUm) };
  });
  const best = without.reduce((least, one) => (one.worstUm < least.worstUm ? one : least));
  return Number.isFinite(best.worstUm) ? { code: 'markAstray', mark: best.mark, awayUm: best.awayUm } : undefined;
}

/** Spread (root mean square) of points across their main direction, from the second moments' smaller eigenvalue. */
function widthOf(points: readonly ChipPoint[]): number {
  const middle = meanPoint(points);
  let [xx, xy, yy] = [0, 0, 0];
  for (const point of points) {
    const [dx, dy] = [point.xUm - middle.xUm, point.yUm - middle.yUm];
    xx += dx * dx;
    xy += dx * dy;
    yy += dy * dy;
  }
  const less = (xx + yy) / 2 - Math.hypot((xx - yy) / 2, xy);
  return Math.sqrt(Math.max(0, less) / points.length);
}
