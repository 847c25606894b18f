import type { DriftState } from '../../planner/focus/drift.ts';
import { largestTiltMrad, slopeAt, usableFieldUm, type FrameFocus, type Slope } from '../../planner/focus/frameFocus.ts';
import type { FocusSurface } from '../../planner/focus/surface.ts';
import type { PlannedChip } from '../../planner/plan/types.ts';
import type { MappedFocus } from './focusMapping.ts';
import { counted, figure } from '../errors/words.ts';

/** "rises by 4.8 mrad along x and falls by 2.1 mrad along y" */
function slopeWords({ xMrad, yMrad }: Slope): string {
  const along = (mrad: number, axis: string): string => `${mrad < 0 ? 'falls' : 'rises'} by ${figure(Math.abs(mrad))} mrad along ${axis}`;
  return `${along(xMrad, 'x')} and ${along(yMrad, 'y')}`;
}

/** What decides how much tilt a whole frame bears. */
export interface Bearable {
  readonly fieldDiagonalUm: number;
  readonly errorUm: number;
  readonly depthOfFieldUm: number;
}

/**
 * What is said of a chip whose frames are not in focus as a whole when taken once: what to level, by how much along which axis, and what is done
 * until then; undefined when all are.
 * @param isDivided whether frames are taken at several heights, or the share in focus is only told
 */
export function tiltSentence(surface: FocusSurface, chip: PlannedChip, frames: readonly FrameFocus[], bears: Bearable, isDivided: boolean): string | undefined {
  const divided = frames.filter(({ slices }) => slices.length > 1);
  const dull = frames.filter(({ isSharp }) => !isSharp);
  if (divided.length === 0 && dull.length === 0) return undefined;
  const parts = [causeOf(slopeAt(surface, surface.centreUm), bears)];
  const tiles = counted(chip.tiles.length, 'tile');
  if (divided.length > 0) {
    const most = Math.max(...divided.map(({ slices }) => slices.length));
    parts.push(`${divided.length} of ${tiles} are taken at ${most === 2 ? '2' : `2 to ${most}`} heights and put together.`);
  }
  if (dull.length > 0) {
    const share = dull.reduce((sum, { sharpShare }) => sum + sharpShare, 0) / dull.length;
    parts.push(`${dull.length} of ${tiles} are ${isDivided ? 'even so ' : ''}in focus over ${figure(100 * share, 0)} % of their area only.`);
  }
  return parts.join(' ');
}

/** Tilt, or else bow and error, against what a whole frame bears. */
function causeOf(slope: Slope, { fieldDiagonalUm, errorUm, depthOfFieldUm }: Bearable): string {
  const tiltMrad = Math.hypot(slope.xMrad, slope.yMrad);
  const bearsMrad = largestTiltMrad(fieldDiagonalUm, errorUm, depthOfFieldUm);
  const per10Um = (mrad: number): string => figure(Math.abs(mrad) * 10, 0);
  const words = `focus ${slopeWords(slope)}`;
  if (tiltMrad <= bearsMrad) return `${words}, which a whole frame bears (${figure(bearsMrad)} mrad), but the chip is bowed, or its focus not known better.`;
  const fieldUm = usableFieldUm(tiltMrad, errorUm, depthOfFieldUm);
  return `${words}; a whole frame bears ${figure(bearsMrad)} mrad, and of this one ${figure(fieldUm, 0)} of ${figure(fieldDiagonalUm, 0)} µm across are in focus at once. Level the chip by as much (${per10Um(slope.xMrad)} µm along x and ${per10Um(slope.yMrad)} µm along y over 10 mm) for a faster night.`;
}

/** What a chip's mapping gave. */
export function mappedSentence({ measured, surface, blank, again: twice, added, jumpUm }: MappedFocus, chip: PlannedChip): string {
  const kind = { plane: 'a plane', quadratic: 'a bowed surface', thinPlate: 'a bent surface' }[surface.kind];
  const bad = surface.badPoints.length > 0 ? `, ${surface.badPoints.length} of them bad and left out` : '';
  const again = twice > 0 ? `, ${twice} of them measured again` : '';
  const more = added > 0 ? `, ${counted(added, 'point')} added` : '';
  const none = blank > 0 ? ` ${counted(blank, 'place')} had nothing to focus on.` : '';
  const jump = jumpUm === undefined ? '' : ` Focus had jumped by ${figure(jumpUm)} µm meanwhile, so that all were measured again.`;
  return `focus found at ${measured.length - added} of ${chip.focusPointsUm.length} points${more}${bad}${again}: ${kind}.${none}${jump}`;
}

/** What is said of the warm-up before the night begins; nothing of a stand that needs none. */
export function warmUpSentence(warmUpMin: number): string | undefined {
  if (warmUpMin === 0) return undefined;
  return `The stand usually takes ${figure(warmUpMin, 0)} min from being switched on until focus stays (focus.warmUpMin). Begun earlier, the night takes a little longer: focus is measured again as often as it drifts.`;
}

/** How fast focus moves, after the first point was measured again. */
export function driftSentence(drift: DriftState, overS: number, warmUpMin: number): string {
  const errorUm = Math.sqrt(drift.rateVariance);
  const warmUp = warmUpMin > 0 ? ` A point is measured again as often as that asks for; the stand usually takes ${figure(warmUpMin, 0)} min to warm up.` : '';
  return `focus drifts by ${figure(drift.rateUmPerH)} ± ${figure(errorUm)} µm an hour, measured over ${figure(overS, 0)} s.${warmUp}`;
}

/** "3, 7 to 12": whole numbers that rise. */
function rangesOf(numbers: readonly number[]): string {
  const starts = numbers.filter((n, i) => numbers[i - 1] !== n - 1);
  return starts
    .map((start) => {
      let end = start;
      while (numbers.includes(end + 1)) end++;
      return end === start ? `${start}` : `${start} to ${end}`;
    })
    .join(', ');
}

/** Focus has jumped.
 * @param tiles taken since it was last seen to be right, and recorded already
 * @param again those that are taken again
 */
export function stepSentence(stepUm: number, tiles: readonly number[], again: readonly number[], chip: PlannedChip): string {
  const first = chip.tiles[0]?.index ?? 0;
  const named = (some: readonly number[]): string => `${counted(some.length, 'tile')} (${rangesOf(some.map((tile) => tile - first + 1))})`;
  const taken = again.length === 0 ? '' : ` Taken again: ${named(again)}.`;
  const lost = tiles.length === 0 ? 'No tile was lost.' : `Taken since focus was last seen to be right, and perhaps out of focus: ${named(tiles)}.`;
  return `focus jumped by ${figure(stepUm)} µm; the surface is moved along. ${lost}${taken}`;
}
