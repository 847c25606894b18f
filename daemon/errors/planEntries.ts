import type { EntriesFor, ErrorEntry, PlanDetails } from './codes.ts';
import { counted, figure, lengthUm } from './words.ts';

function entry<D>(happened: (refusal: D) => string, next: string): ErrorEntry<D> {
  return { exit: 2, say: (refusal) => [happened(refusal), 'Nothing has moved.', next] };
}

/** Why a plan is refused before the first move. */
export const planEntries: EntriesFor<PlanDetails> = {
  outlineTooFewCorners: entry(
    (r) => `The outline of chip ${r.chip} has ${counted(r.corners, 'corner')} that differ; three are the least.`,
    'Add the missing corners.',
  ),
  outlineCrossesItself: entry(
    (r) => `The outline of chip ${r.chip} crosses itself: side ${r.edgeA + 1} meets side ${r.edgeB + 1}.`,
    'Give the corners in order round the chip.',
  ),
  outlineEmpty: entry(
    (r) => `Nothing of chip ${r.chip} is left inside its edge margin of ${lengthUm(r.edgeMarginUm)}.`,
    'Make `edgeMarginUm` smaller, or the outline larger.',
  ),
  allSkipped: entry((r) => `Nothing of chip ${r.chip} is left to scan: the areas to skip cover all of it inside its margin.`, 'Make an area under `skip` smaller, or leave the chip out.'),
  skipUnsound: entry(
    (r) => `Area ${r.skip + 1} to skip on chip ${r.chip} ${r.crosses ? 'crosses itself' : 'has fewer than three corners that differ'}.`,
    'Give its corners in order round it, three at least.',
  ),
  chipsOverlap: entry((r) => `Chips ${r.chip} and ${r.other} lie over each other.`, 'Move one outline, so that each spot belongs to one chip.'),
  overlapRange: entry(
    (r) => `An overlap of ${figure(r.overlap, 3)} is outside 0 to ${figure(r.max, 3)}.`,
    'Choose an overlap in that range; 0.1 is usual.',
  ),
  beyondTravel: entry(
    (r) => `Chip ${r.chip} needs the stage ${lengthUm(r.byUm)} beyond its limit ${r.limit} of ${lengthUm(r.limitUm)}.`,
    'Move that corner in, place the chip elsewhere, or turn it.',
  ),
  tooManyTiles: entry((r) => `The plan has ${counted(r.tiles, 'tile')}; ${figure(r.max, 0)} are the most.`, 'Scan fewer chips at a time, or use an objective with a larger field.'),
};
