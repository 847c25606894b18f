import { closeUpsInBudget, closeUpTerrace, closeUpTravel, closeUpValue, secondsPerCloseUp, type ChosenCloseUps, type CloseUpCandidate } from '../../planner/closeUps/index.ts';
import type { BookContext } from '../../planner/flakes/context.ts';
import type { Flake } from '../../planner/flakes/types.ts';
import { focusMoveSeconds } from '../../planner/plan/travel.ts';
import type { StagePoint } from '../../planner/units/index.ts';
import { lowTravelFor, timingFor } from '../config/resolve.ts';
import { bookContext } from '../run/bookContext.ts';
import { standFor, type CloseUpContext } from './path.ts';
import { readMs } from './reading.ts';

/** Most flakes that are weighed against each other; those beyond are the least worth it. */
const mostCandidates = 2000;

/** What one close-up takes once the stage is there, in s: focus, stack, and reading it. */
export function closeUpSeconds({ config, path, policy }: Pick<CloseUpContext, 'config' | 'path' | 'policy'>): number {
  return secondsPerCloseUp(policy, timingFor(config, path.exposureMs, false)) + readMs / 1000;
}

/** The flakes of a night that may be looked at again: worth it, within reach, and not looked at yet. The best first. */
export function closeUpCandidates(context: CloseUpContext, flakes: Iterable<Flake>): readonly CloseUpCandidate[] {
  const { records, runId, path, plan } = context;
  const known = new Set(records.closeUps(runId).filter(({ opticalPath }) => opticalPath === path.name).map(({ flakeId }) => flakeId));
  const books = new Map(plan.chips.map(({ name }) => [name, bookContext(context, name)] as const));
  const all: CloseUpCandidate[] = [];
  for (const flake of flakes) {
    const book = books.get(flake.chip);
    if (book && !known.has(flake.id)) all.push(...candidate(context, flake, book));
  }
  return all.sort((a, b) => b.value - a.value || (a.id < b.id ? -1 : 1)).slice(0, mostCandidates);
}

function candidate(context: CloseUpContext, flake: Flake, book: BookContext): readonly CloseUpCandidate[] {
  const value = closeUpValue(flake, book);
  const atUm = closeUpTerrace(flake, book)?.inscribedCentreUm;
  return value > 0 && atUm && isWithinReach(context, standFor(context, atUm)) ? [{ id: flake.id, chip: flake.chip, atUm, value }] : [];
}

/** With room for taking up the slack. */
function isWithinReach({ config: { limits, stage } }: CloseUpContext, { xUm, yUm }: StagePoint): boolean {
  const roomUm = stage.backlashUm;
  return xUm - roomUm >= limits.xMinUm && xUm + roomUm <= limits.xMaxUm && yUm - roomUm >= limits.yMinUm && yUm + roomUm <= limits.yMaxUm;
}

/** The time that is left for flakes: the objective goes up for its change, and down to the first. */
export function flakesBudgetS({ config, path }: Pick<CloseUpContext, 'config' | 'path'>, leftS: number): number {
  return leftS - 2 * focusMoveSeconds(lowTravelFor(config).raiseUm, timingFor(config, path.exposureMs, false));
}

/** What fits into the time that is left, in the order in which it is gone to. */
export function chooseCloseUps(context: CloseUpContext, candidates: readonly CloseUpCandidate[], fromUm: StagePoint, leftS: number): ChosenCloseUps {
  const { config, path, plan } = context;
  const timing = { ...timingFor(config, path.exposureMs, false), lowTravel: lowTravelFor(config), perTileS: 0 };
  return closeUpsInBudget({ candidates, fromUm, budgetS: flakesBudgetS(context, leftS), atPlaceS: closeUpSeconds(context), travelS: closeUpTravel(plan.chips, timing) });
}
