import type { PlanNotice, ScanPlan } from '../../planner/plan/types.ts';
import { lengthUm } from '../errors/words.ts';
import { bytesText, durationText, tableText } from './words.ts';

/** The same chips through one of the instrument's optical paths. */
export interface PathPlan {
  readonly path: string;
  readonly objective: string;
  /** `undefined` where these chips cannot be planned through it. */
  readonly plan: ScanPlan | undefined;
}

/** A night's plan as text: its chips, what it comes to, what to know, and what other objectives would make of it. */
export function planText(plan: ScanPlan, chosen: string, paths: readonly PathPlan[]): string {
  const rows = plan.chips.map((chip) => [chip.name, chip.areaMm2.toFixed(1), String(chip.tiles.length), String(chip.focusPointsUm.length)]);
  const table = tableText(['chip', 'scanned mm²', 'tiles', 'focus points'], rows, new Set([1, 2, 3]));
  const notices = plan.chips.flatMap((chip) => (chip.notices ?? []).map((notice) => noticeText(chip.name, notice)));
  return `${[table, sumText(plan), ...notices, ...(paths.length > 1 ? [pathsText(chosen, paths)] : [])].join('\n\n')}\n`;
}

function sumText(plan: ScanPlan): string {
  const field = `${Math.round(plan.fieldWidthUm)} × ${Math.round(plan.fieldHeightUm)} µm`;
  const least = plan.boundS === undefined ? '' : `\nThe instrument could not take these tiles in less than ${durationText(plan.boundS)}.`;
  const closeUps = plan.closeUps ? `\nThen up to ${durationText(plan.closeUps.budgetS)} of close-ups: about ${plan.closeUps.about} flakes, the ones most worth it.` : '';
  const known = plan.knownFlake ? `\nFirst and last the known flake ${plan.knownFlake.name} is looked at, ${durationText(plan.knownFlake.visitS)} each time.` : '';
  return `${plan.tileCount} tiles of ${field}, about ${durationText(plan.forecastS)}, about ${bytesText(plan.diskBytes)} on disk.${known}${closeUps}${least}`;
}

function pathsText(chosen: string, paths: readonly PathPlan[]): string {
  const rows = paths.map(({ path, objective, plan }) => {
    const figures = plan ? [String(plan.tileCount), durationText(plan.forecastS), bytesText(plan.diskBytes)] : ['–', 'cannot be planned', '–'];
    return [path === chosen ? `${path} (chosen)` : path, objective, ...figures];
  });
  return `These chips through each optical path:\n${tableText(['path', 'objective', 'tiles', 'time', 'disk'], rows, new Set([2, 3, 4]))}`;
}

function noticeText(chip: string, notice: PlanNotice): string {
  switch (notice.code) {
    case 'fieldWiderThanChip':
      return `Chip ${chip} is ${lengthUm(notice.chipUm)} wide at most, the field ${lengthUm(notice.fieldUm)}: its edge and what lies beyond will be in the picture. A stronger objective shows the chip alone.`;
    case 'marginCutsApart':
      return `Inside its margin chip ${chip} falls into ${notice.pieces} pieces; each is scanned.`;
  }
}
