import type { Clock } from '../../drivers/interfaces/index.ts';
import type { Flake } from '../../planner/flakes/types.ts';
import { NightjarError } from '../errors/index.ts';
import type { ChipRecord, Circumstances, NewVerdict } from '../records/types.ts';
import type { GivenVerdict } from '../server/feed.ts';
import type { NightBoard } from './board.ts';
import { bookContext, circumstancesOf, labelsFor, recordedBare, type NightToRead } from './bookContext.ts';
import { calibrationOf, rungsShown } from './calibration.ts';
import type { Recalibrate } from './recalibration.ts';
import { terraceOf } from './verdictViews.ts';
import { caughtUpSentence, verdictSentence } from './verdictWords.ts';

export interface DeskParts {
  readonly context: NightToRead;
  readonly board: NightBoard;
  /** The time that people live by. */
  readonly clock: Clock;
  readonly recalibrate: Recalibrate;
  /** False for a chip that is being scanned: its flakes are the run's, which reads them again by itself. */
  mayReread(chip: string): boolean;
}

/** A number given, or taken back where there is none given. */
interface Wish {
  readonly flakeId: string;
  readonly terrace: number;
  readonly given?: GivenVerdict;
}

interface Asked {
  /** Left out where only what is behind is to be read again. */
  readonly wish?: Wish;
  readonly resolve: () => void;
  readonly reject: (error: unknown) => void;
}

/** What one wish changes in the records. */
interface Change {
  readonly wish: Wish;
  readonly chip: string;
  readonly given: readonly NewVerdict[];
  readonly withdrawn: readonly number[];
}

/** A chip that is read again: what changes on the page and in the records. */
interface Reread {
  readonly chip: string;
  readonly record: Pick<ChipRecord, 'ladder'> & { readonly calibration: NonNullable<ChipRecord['calibration']> };
  readonly changed: readonly Flake[];
}

/**
 * Takes what people say of layer numbers. One piece of work at a time: all that has come in meanwhile is taken together, the ladders of
 * the chips that it calibrates are fitted anew, and verdicts, flakes and ladders are written in one transaction; then those who asked
 * are answered. What waits is bounded by the server, which lets each page have a few requests open.
 */
export class VerdictDesk {
  private readonly parts: DeskParts;
  private waiting: Asked[] = [];
  private isAtWork = false;

  constructor(parts: DeskParts) {
    this.parts = parts;
  }

  /** Rejects with `noSuchFlake`, `noSuchTerrace`, or what the records throw: then nothing is kept. */
  give(given: GivenVerdict): Promise<void> {
    return this.ask({ flakeId: given.flakeId, terrace: given.terrace, given });
  }

  /** Rejects with `noSuchVerdict` where there is none to take back. */
  withdraw(flakeId: string, terrace: number): Promise<void> {
    return this.ask({ flakeId, terrace });
  }

  /**
   * Reads again every chip whose ladder was fitted to other labels than hold now: numbers given while it was scanned, and numbers of
   * other nights given since. Resolves at once where nothing is behind; rejects with what the records throw.
   */
  catchUp(): Promise<void> {
    return this.ask();
  }

  private ask(wish?: Wish): Promise<void> {
    return new Promise((resolve, reject) => {
      this.waiting.push({ ...(wish ? { wish } : {}), resolve, reject });
      if (!this.isAtWork) void this.work();
    });
  }

  private async work(): Promise<void> {
    this.isAtWork = true;
    while (this.waiting.length > 0) {
      const batch = this.takeBatch();
      try {
        await this.carryOut(batch);
      } catch (error) {
        for (const asked of batch) asked.reject(error);
      }
    }
    this.isAtWork = false;
  }

  /** As many as may be done at once: of two about one terrace the second has to see what became of the first. */
  private takeBatch(): readonly Asked[] {
    const keys = this.waiting.map(({ wish }) => wish && `${wish.flakeId} ${wish.terrace}`);
    const again = keys.findIndex((key, i) => key !== undefined && keys.indexOf(key) < i);
    return this.waiting.splice(0, again < 0 ? keys.length : again);
  }

  private async carryOut(batch: readonly Asked[]): Promise<void> {
    const atMs = this.parts.clock.now();
    const changes: Change[] = [];
    const understood: Asked[] = [];
    for (const asked of batch) {
      try {
        if (asked.wish) changes.push(this.changeFor(asked.wish, atMs));
        understood.push(asked);
      } catch (error) {
        asked.reject(error);
      }
    }
    if (understood.length > 0) await this.keep(changes, atMs);
    for (const asked of understood) asked.resolve();
  }

  /** Throws when the flake, the terrace or the verdict to be taken back is not there. */
  private changeFor(wish: Wish, atMs: number): Change {
    const { board, context } = this.parts;
    const { flakeId, terrace: index, given } = wish;
    const flake = board.flake(flakeId)?.flake;
    if (!flake) throw new NightjarError('noSuchFlake', { flakeId });
    const terrace = flake.terraces[index];
    if (!terrace) throw new NightjarError('noSuchTerrace', { flakeId, terrace: index });
    const before = board.verdictsOn(flake).filter((verdict) => terraceOf(flake, verdict.terrace, verdict.atUm) === index);
    const withdrawn = before.map(({ seq }) => seq);
    if (!given && withdrawn.length === 0) throw new NightjarError('noSuchVerdict', { flakeId, terrace: index });
    const { contrast, contrastError, inscribedCentreUm: atUm, call } = terrace;
    const measured = { contrast, contrastError, atUm, predictedLayers: call.layers, predictedProbability: call.probability };
    return { wish, chip: flake.chip, withdrawn, given: given ? [{ ...given, ...measured, chip: flake.chip, atMs, under: circumstancesOf(context, flake.chip) }] : [] };
  }

  private async keep(changes: readonly Change[], atMs: number): Promise<void> {
    const { context, board } = this.parts;
    const { records, runId } = context;
    const said = { given: changes.flatMap(({ given }) => given), withdrawn: changes.flatMap(({ withdrawn }) => withdrawn) };
    const reread: Reread[] = [];
    for (const chip of this.chipsToRead(changes)) {
      const done = await this.reread(chip, said);
      if (done) reread.push(done);
    }
    if (changes.length + reread.length === 0) return;
    const chips = records.chips(runId).flatMap((record) => reread.flatMap((each) => (each.chip === record.chip ? [{ ...record, ...each.record }] : [])));
    const flakes = reread.flatMap(({ changed }) => changed);
    records.commitVerdicts(runId, { ...said, atMs, flakes, chips });
    board.setVerdicts(records.verdicts(runId));
    for (const { chip, record, changed } of reread) {
      board.setChip(chip, {}, record.ladder, record.calibration);
      board.rereadFlakes(changed);
    }
    for (const change of changes) this.tell(verdictSentence(change.wish, change.given[0], flakes.length, reread.length > 0), atMs);
    if (changes.length === 0) this.tell(caughtUpSentence(reread.map(({ chip }) => chip), flakes.length), atMs);
  }

  /** The chips of this night that the changes say something of, and those that are behind, as far as they may be read again now. */
  private chipsToRead(changes: readonly Change[]): readonly string[] {
    const { context } = this.parts;
    const nameOf = (chip: string): string => keyOf(circumstancesOf(context, chip));
    const touched = new Set(changes.map(({ chip }) => nameOf(chip)));
    return context.plan.chips.map(({ name }) => name).filter((chip) => this.parts.mayReread(chip) && (touched.has(nameOf(chip)) || this.isBehind(chip)));
  }

  /** Whether the chip's ladder was fitted to another number of labels than there are now. */
  private isBehind(chip: string): boolean {
    const { context, board } = this.parts;
    const labels = labelsFor(context, chip).filter(({ contrast }) => contrast.length === this.channelsOf(chip));
    return labels.length !== (board.calibration(chip)?.labels ?? 0);
  }

  private channelsOf(chip: string): number | undefined {
    for (const { terraces } of this.parts.board.flakesOf(chip)) if (terraces[0]) return terraces[0].contrast.length;
    return undefined;
  }

  private async reread(chip: string, said: { readonly given: readonly NewVerdict[]; readonly withdrawn: readonly number[] }): Promise<Reread | undefined> {
    const { context, board, recalibrate } = this.parts;
    const flakes = [...board.flakesOf(chip)];
    const channels = this.channelsOf(chip);
    if (channels === undefined) return undefined;
    const { ladder, changed } = await recalibrate({ flakes, context: { ...bookContext(context, chip, labelsFor(context, chip, said)), ...recordedBare(context, chip) }, channels });
    return { chip, changed, record: { ladder: rungsShown(ladder), calibration: calibrationOf(ladder) } };
  }

  private tell(text: string, atMs: number): void {
    const { context, board } = this.parts;
    const event = { atMs, kind: 'verdict', text };
    context.records.addEvent(context.runId, event);
    board.addEvent(event);
  }
}

function keyOf({ opticalPath, material, substrate, oxideNm }: Circumstances): string {
  return JSON.stringify([opticalPath, material, substrate, oxideNm]);
}

