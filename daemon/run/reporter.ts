import type { Clock } from '../../drivers/interfaces/index.ts';
import type { ScanPlan } from '../../planner/plan/types.ts';
import { sentenceFor } from '../errors/index.ts';
import type { CloseUpChoice } from '../closeUps/pass.ts';
import type { CloseUpRecord } from '../records/types.ts';
import type { NightBoard } from './board.ts';
import { ClockWatch } from './clockWatch.ts';
import type { Committed } from './committer.ts';
import type { NightContext } from './context.ts';
import type { Safety } from './endOfNight.ts';
import type { LampWord } from './lampWatch.ts';
import { LateNotes } from './lateNotes.ts';
import { presentTile, type RunMachine } from './machine.ts';
import { Pacing } from './pacing.ts';
import { choiceSentence, closeUpSentence, nowSentence, reasonWords, tilePlace, type Whereabouts } from './sentences.ts';
import { withCloseUp } from './views.ts';

export interface ReporterParts {
  readonly context: NightContext;
  readonly board: NightBoard;
  /** The time that people wait by, for what is left. */
  readonly waitingClock: Clock;
  readonly alreadyRecorded: number;
  /** Told of every progress: the watchdog. */
  readonly isAlive: () => void;
}

/**
 * Says what happens: to the records as events on the night's own clock, to the board as progress and events on the clock that people
 * wait by, to the log as lines. The two clocks are one for a real instrument; a simulated night's runs faster.
 */
export class Reporter {
  private readonly context: NightContext;
  private readonly board: NightBoard;
  private readonly pacing: Pacing;
  private readonly waitingClock: Clock;
  private machine: RunMachine | undefined;
  private focusPoint: Whereabouts['focusPoint'] | undefined;
  private ended: number;
  private skipped: number;
  private faulty: number;

  private readonly isAlive: () => void;
  private readonly clockWatch: ClockWatch;
  /** On a full disk the night still has to park: what cannot be written is logged and shown, and written later. */
  private readonly notes = new LateNotes((error) => this.context.log.error({ err: error }, 'could not be recorded'));

  constructor({ context, board, waitingClock, alreadyRecorded, isAlive }: ReporterParts) {
    this.isAlive = isAlive;
    this.clockWatch = new ClockWatch(waitingClock);
    this.context = context;
    this.board = board;
    this.waitingClock = waitingClock;
    this.pacing = new Pacing(waitingClock, context.plan.tileCount, context.plan.forecastS);
    this.ended = alreadyRecorded;
    const tiles = context.records.tileHeads(context.runId);
    this.skipped = tiles.filter((tile) => tile.outcome === 'skipped').length;
    this.faulty = tiles.filter((tile) => tile.fault !== undefined).length;
    this.pacing.begin(alreadyRecorded);
  }

  /** A night that goes on begins at preflight again, from whatever state it was left in. */
  begin(machine: RunMachine): void {
    this.machine = machine;
    const { records, runId } = this.context;
    if (records.run(runId)?.state !== machine.phase) this.became(machine.phase, 'resumed');
    this.progress();
  }

  /** A step of the machine: its phase with its cause goes into the records, and on the page. Waiting for the classifier is no news there. */
  stepped(before: RunMachine, after: RunMachine): void {
    this.machine = after;
    if (before.phase !== after.phase) {
      const waits = after.phase === 'waiting' || (before.phase === 'waiting' && after.phase === 'scanning');
      this.became(after.phase, after.cause);
      if (!waits) this.event('run', nowSentence(after, this.whereabouts()));
    }
    this.progress();
  }

  /** A device that has gone was looked for. */
  looked(): void {
    this.isAlive();
  }

  focusing(chip: string, point: number, of: number): void {
    this.focusPoint = { chip, point, of };
    this.progress();
  }

  focused(chip: string, text: string): void {
    this.focusPoint = undefined;
    this.event('focus', `${chip}: ${text}`);
    this.progress();
  }

  /** Something that people should know before the first move. */
  preflight(text: string): void {
    this.event('preflight', text);
  }

  committed({ tile, newlyFlagged }: Committed): void {
    this.ended++;
    if (tile.outcome === 'skipped') this.skipped++;
    if (tile.fault !== undefined) this.faulty++;
    if (tile.reason !== undefined) this.event('tile', `${tilePlace(tile.tile, tile.chip, this.context.plan)}: ${tile.outcome === 'skipped' ? 'skipped' : 'not measured'}, ${reasonWords(tile.reason)}.`);
    for (const flake of newlyFlagged) this.event('flake', `${flake.chip}: ${flake.layers ?? 'several'} ${flake.layers === 1 ? 'layer' : 'layers'}, ${flake.usableUm.toFixed(0)} µm usable`);
    this.progress();
  }

  knownFlake(text: string): void {
    this.event('knownFlake', text);
  }

  closeUpsChosen(choice: CloseUpChoice): void {
    this.event('closeUp', choiceSentence(choice));
    this.progress();
  }

  /** A flake was looked at again, or left out. */
  closeUp(closeUp: CloseUpRecord): void {
    const view = this.board.flake(closeUp.flakeId);
    if (view) this.board.setFlakes([withCloseUp(view, closeUp, this.context.config)], []);
    this.event('closeUp', closeUpSentence(closeUp, view?.flake));
    this.progress();
  }

  /** Something went wrong that a person should read. */
  trouble(error: unknown): string {
    const { code, sentence } = sentenceFor(error);
    this.context.log.warn({ code, err: error }, 'trouble');
    this.event('trouble', sentence);
    return code;
  }

  /** The lamp gives less light than it did. */
  lamp({ kind, share }: LampWord): void {
    const text = `The lamp gives ${Math.round(100 * share)} % of the light that it gave at the beginning.`;
    this.event('trouble', kind === 'faded' ? `${text} The night stops here; change the lamp and go on.` : `${text} Contrast stands, for it is a ratio of light; look at the lamp before the next night.`);
  }

  recordsFailed(error: unknown, park: (code: string) => void): void {
    park(this.trouble(error));
  }

  madeSafe({ unsafe, late }: Safety): void {
    for (const device of late) this.event('trouble', `The ${device} was made safe only when it was tried again.`);
    for (const device of unsafe) this.event('trouble', `The ${device} could not be made safe. Go and look at the instrument.`);
  }

  private became(phase: RunMachine['phase'], cause: string): void {
    const { records, runId } = this.context;
    const atMs = this.nowMs();
    this.notes.write(() => records.setRunState(runId, phase, cause, atMs));
  }

  private event(kind: string, text: string): void {
    const { records, runId } = this.context;
    const event = { atMs: this.nowMs(), kind, text };
    this.notes.write(() => records.addEvent(runId, event));
    this.board.addEvent({ atMs: this.waitingClock.now(), kind, text });
  }

  private progress(): void {
    this.isAlive();
    const set = this.clockWatch.look();
    if (set !== undefined) this.event('clock', set);
    const { machine } = this;
    if (!machine) return;
    const next = presentTile(machine);
    const leftS = machine.phase === 'finished' ? 0 : this.pacing.leftS(this.ended, closeUpsLeftS(machine, this.context.plan));
    this.board.setProgress({
      state: machine.phase,
      sentence: nowSentence(machine, this.whereabouts()),
      ...(next && machine.phase !== 'finished' ? { nowTile: next.tile } : {}),
      tilesDone: this.ended - this.skipped,
      tilesSkipped: this.skipped,
      tilesFaulty: this.faulty,
      tiles: this.context.plan.tileCount,
      flagged: this.board.flaggedCount,
      leftS,
      doneAtMs: this.waitingClock.now() + leftS * 1000,
      clockMs: this.waitingClock.now(),
    });
  }

  private whereabouts(): Whereabouts {
    return { plan: this.context.plan, flagged: this.board.flaggedCount, skipped: this.skipped, ...(this.focusPoint ? { focusPoint: this.focusPoint } : {}) };
  }

  private nowMs(): number {
    return this.context.instrument.clock.now();
  }
}

/** What the close-ups still to come take, as planned: their whole time until they are chosen, then each its share. */
function closeUpsLeftS({ closeUps }: RunMachine, plan: ScanPlan): number {
  if (!plan.closeUps || closeUps.stage === 'over') return 0;
  const { budgetS, about } = plan.closeUps;
  return closeUps.stage === 'toChoose' ? budgetS : Math.min(budgetS, ((closeUps.todo.length - closeUps.at) * budgetS) / Math.max(1, about));
}
