import type { Clock } from '../../drivers/interfaces/index.ts';
import { nextToJudge, type Draw } from '../../planner/secondJudging/order.ts';
import { NightjarError } from '../errors/index.ts';
import type { Records, VerdictRecord } from '../records/types.ts';
import type { NightBoard } from '../run/board.ts';
import type { GivenVerdict } from '../server/feed.ts';
import { drawBy } from './draw.ts';
import { isByEye, judgementsOf, offeredTerrace, unjudgedFlakes } from './judged.ts';

export interface JudgingParts {
  readonly records: Records;
  readonly runId: string;
  readonly board: NightBoard;
  /** The time that people live by. */
  readonly clock: Clock;
}

/** What was put before a person last. */
interface Offer {
  readonly flakeId: string;
  readonly terrace: number;
  /** The verdict that is to be repeated, and its repetition once given; left out where nobody has judged this flake. */
  readonly first?: VerdictRecord;
  given?: number;
}

/** So many people judge one night at most; of more, the first is forgotten. */
const mostPeople = 16;

/**
 * Puts flakes before a person one after the other, a hidden share of those judged once more. Whether one is new is not told before it is judged:
 * its verdicts are taken off the board for all, in either case, and what is said then is kept beside the first verdict, which stands.
 */
export class SecondJudging {
  private readonly parts: JudgingParts;
  private readonly draw: Draw;
  private readonly offers = new Map<string, Offer>();
  private readonly passed = new Set<string>();
  /** Flakes whose first verdict is on its way to the records. As many as requests may wait. */
  private readonly inHand = new Set<string>();

  constructor(parts: JudgingParts) {
    this.parts = parts;
    const run = parts.records.run(parts.runId);
    // Both files are in the records and on no page.
    this.draw = drawBy(`${parts.runId}\n${run?.runSheetText}\n${run?.instrumentText}`);
  }

  /** The flake that this person is to judge next; undefined when none is left. One that was offered before and not judged comes last. */
  next(initials: string): string | undefined {
    const { board } = this.parts;
    this.passOver(initials);
    const verdicts = this.parts.records.verdicts(this.parts.runId);
    const judged = judgementsOf(initials, verdicts, this.parts.records.secondVerdicts(this.parts.runId), board);
    const open = unjudgedFlakes(board).filter((id) => !this.inHand.has(id));
    const fresh = open.filter((id) => !this.passed.has(id));
    const next = nextToJudge(judged, fresh.length > 0 ? fresh : open, this.draw, this.passed);
    const first = next && 'again' in next ? verdicts.find(({ seq }) => String(seq) === next.again) : undefined;
    const flakeId = first?.flakeId ?? (next && 'unjudged' in next ? next.unjudged : undefined);
    const flake = flakeId === undefined ? undefined : board.flake(flakeId)?.flake;
    if (!flake) return undefined;
    this.offer(initials, { flakeId: flake.id, terrace: offeredTerrace(flake), ...(first ? { first } : {}) });
    return flake.id;
  }

  /** Takes a verdict that repeats one; false where it repeats none, and is any verdict: {@link settled} is to be told when that is recorded. */
  give(verdict: GivenVerdict): boolean {
    const { records, runId, board, clock } = this.parts;
    const offer = this.offers.get(verdict.initials);
    const isIt = offer?.flakeId === verdict.flakeId && offer.terrace === verdict.terrace;
    const call = board.flake(verdict.flakeId)?.flake.terraces[verdict.terrace]?.call;
    if (!offer?.first || !isIt || !isByEye(verdict.source) || !call) {
      if (offer) this.drop(verdict.initials, offer);
      this.inHand.add(verdict.flakeId);
      return false;
    }
    const { layers, source, initials } = verdict;
    const atMs = clock.now();
    offer.given = records.addSecondVerdict(runId, { firstSeq: offer.first.seq, layers, source, initials, atMs }, offer.given);
    this.passed.delete(String(offer.first.seq));
    // Shown as if it were the first, until the person goes on: the first would tell that there was one.
    board.showInstead(offer.flakeId, [{ terrace: offer.terrace, layers, source, initials, atMs, predictedLayers: call.layers, predictedProbability: call.probability }]);
    return true;
  }

  settled(flakeId: string): void {
    this.inHand.delete(flakeId);
  }

  /** Takes a repetition back that was just given; false where there is none on this terrace. Throws `noSuchVerdict` where none is given yet. */
  withdraw(flakeId: string, terrace: number): boolean {
    const { records, runId, board, clock } = this.parts;
    const offer = [...this.offers.values()].find((each) => each.first && each.flakeId === flakeId && each.terrace === terrace);
    if (!offer) return false;
    if (offer.given === undefined) throw new NightjarError('noSuchVerdict', { flakeId, terrace });
    records.withdrawSecondVerdict(runId, offer.given, clock.now());
    delete offer.given;
    board.showInstead(flakeId, []);
    return true;
  }

  private offer(initials: string, offer: Offer): void {
    const [oldest] = this.offers;
    if (oldest && this.offers.size >= mostPeople) this.drop(...oldest);
    this.offers.set(initials, offer);
    this.parts.board.showInstead(offer.flakeId, []);
  }

  /** The person goes on without having judged: it is not put before anybody again soon. */
  private passOver(initials: string): void {
    const offer = this.offers.get(initials);
    if (!offer) return;
    if (offer.given === undefined) this.passed.add(offer.first ? String(offer.first.seq) : offer.flakeId);
    this.drop(initials, offer);
  }

  private drop(initials: string, { flakeId }: Offer): void {
    this.offers.delete(initials);
    if (![...this.offers.values()].some((other) => other.flakeId === flakeId)) this.parts.board.showInstead(flakeId, undefined);
  }
}
