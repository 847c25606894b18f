import type { Flake } from '../../planner/flakes/types.ts';
import type { LabelSource } from '../../planner/layers/types.ts';
import type { Judgement } from '../../planner/secondJudging/order.ts';
import type { SecondVerdict, VerdictRecord } from '../records/types.ts';
import type { NightBoard } from '../run/board.ts';
import { terraceOf } from '../run/verdictViews.ts';

/** Only what was judged by eye comes up again: Raman and AFM are no matter of judgement. */
export function isByEye(source: LabelSource): boolean {
  return source === 'blindEye' || source === 'shownEye';
}

/** The terrace that the page offers first: the one that counts, else the lowest. */
export function offeredTerrace(flake: Pick<Flake, 'terraces' | 'layers' | 'usableUm'>): number {
  return Math.max(0, flake.terraces.findIndex(({ call, inscribedUm }) => call.layers === flake.layers && inscribedUm === flake.usableUm));
}

/** Whether a verdict speaks of the terrace that its flake is offered by. */
function isOnOffered(flake: Flake, verdict: VerdictRecord): boolean {
  return terraceOf(flake, verdict.terrace, verdict.atUm) === offeredTerrace(flake);
}

/** The flagged flakes whose offered terrace nobody has judged, best first. */
export function unjudgedFlakes(board: NightBoard): readonly string[] {
  return board.flagged().flatMap((flake) => (board.verdictsOn(flake).some((verdict) => isOnOffered(flake, verdict)) ? [] : [flake.id]));
}

/** All that one person judged in a night, in order; each first verdict goes by its `seq`, each second one by that of the first. */
export function judgementsOf(initials: string, verdicts: readonly VerdictRecord[], seconds: readonly SecondVerdict[], board: NightBoard): readonly Judgement[] {
  const firsts = verdicts.filter((verdict) => verdict.initials === initials).map((verdict) => ({ atMs: verdict.atMs, key: String(verdict.seq), isSecond: false, mayComeAgain: mayComeAgain(verdict, board) }));
  const again = seconds.filter((second) => second.initials === initials && second.withdrawnAtMs === undefined).map(({ atMs, firstSeq }) => ({ atMs, key: String(firstSeq), isSecond: true, mayComeAgain: false }));
  return [...firsts, ...again].sort((a, b) => a.atMs - b.atMs);
}

function mayComeAgain(verdict: VerdictRecord, board: NightBoard): boolean {
  const flake = board.flake(verdict.flakeId)?.flake;
  return flake !== undefined && flake.verdict === 'flagged' && verdict.withdrawnAtMs === undefined && isByEye(verdict.source) && isOnOffered(flake, verdict);
}
