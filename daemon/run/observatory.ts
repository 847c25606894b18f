import type { Logger } from 'pino';
import type { Flake } from '../../planner/flakes/types.ts';
import type { Clock } from '../../drivers/interfaces/index.ts';
import type { FramePool } from '../classify/pool.ts';
import type { InstrumentConfig } from '../config/instrument.ts';
import { NightjarError, sentenceFor } from '../errors/index.ts';
import type { OpenInstrument } from '../instrument/open.ts';
import { toDisplayRgb8 } from '../records/display.ts';
import { encodePictureCrop } from '../records/images.ts';
import { absoluteFile } from '../records/layout.ts';
import type { Records, TileRecord } from '../records/types.ts';
import type { WriteBytes } from '../records/writeDurably.ts';
import type { GivenVerdict, NightControls, NightPictures, PreflightControls } from '../server/feed.ts';
import { NightBoard } from './board.ts';
import { nightContext, type NightContext } from './context.ts';
import { LiveView, type LiveFrame, type LiveTarget } from './live.ts';
import { hasEnded, type RunMachine } from './machine.ts';
import { Night, showRecorded } from './night.ts';
import type { OpenedNight } from './openNight.ts';
import { constancyOf } from '../constancy/line.ts';
import { SecondJudging } from '../secondJudging/judging.ts';
import { recalibrateHere, type Recalibrate } from './recalibration.ts';
import { VerdictDesk } from './verdictDesk.ts';

export interface ObservatoryParts {
  readonly records: Records;
  readonly instrument: OpenInstrument;
  readonly config: InstrumentConfig;
  readonly pool: FramePool;
  readonly log: Logger;
  /** The time that people wait by. */
  readonly waitingClock: Clock;
  readonly freeBytes: () => Promise<number>;
  /** How bytes get into picture files, when not in the usual way: a full disk is rehearsed with it. */
  readonly writeBytes?: WriteBytes;
  /** The time that the run's watchdog goes by, when not the instrument's own. */
  readonly watchClock?: Clock;
  /** Reads a chip again after a person has spoken; in this thread when left out. */
  readonly recalibrate?: Recalibrate;
}

/**
 * Where a night, the instrument, the records and the browsers meet: one instrument, at most one night at a time, and what a browser may
 * ask for. The run has the controls while it scans; the way back to a flake is open when it is paused or over.
 */
export class Observatory implements NightControls, NightPictures {
  readonly board = new NightBoard();
  /** Who looks after the checks before the night, where they were asked for. */
  preflight: PreflightControls | undefined;
  private readonly parts: ObservatoryParts;
  private context: NightContext | undefined;
  private night: Night | undefined;
  private desk: VerdictDesk | undefined;
  private judging: SecondJudging | undefined;
  private liveView: LiveView | undefined;
  private livePicture: { readonly bytes: Uint8Array; readonly type: string } | undefined;
  private liveCount = 0;
  private isTakingBack = false;
  /** Level of bare oxide where the flake was found: live and stored pictures are then shown alike. */
  private liveSubstrate: readonly number[] = [];

  constructor(parts: ObservatoryParts) {
    this.parts = parts;
  }

  /** Runs a night to its end. Throws `runActive` while another one is under way. */
  async runNight(opened: OpenedNight): Promise<RunMachine> {
    if (this.night && !hasEnded(this.night.state)) throw new NightjarError('runActive', { title: opened.sheet.title });
    this.context = this.contextOf(opened);
    this.night = new Night(this.context, this.board, this.parts.waitingClock, this.parts.watchClock);
    this.openDesk(this.context);
    this.parts.instrument.setPace('fast');
    try {
      return await this.night.run();
    } finally {
      this.parts.instrument.setPace('real');
      await this.catchUp();
      this.showConstancy(this.context);
    }
  }

  /** Shows a night from the records without running it: to look at what was found and to go back to it. */
  showNight(opened: OpenedNight): void {
    this.context = this.contextOf(opened);
    showRecorded(this.context, this.board);
    for (const { chip, ladder, calibration } of this.parts.records.chips(opened.runId)) this.board.setChip(chip, {}, ladder, calibration);
    this.openDesk(this.context);
    this.board.showEnded(this.parts.records.run(opened.runId)?.state ?? 'finished', this.parts.waitingClock.now());
    void this.catchUp();
  }

  async goToFlake(flakeId: string): Promise<void> {
    this.refuseWhileScanning('go to a flake');
    const { context } = this;
    if (!context) throw new NightjarError('noRun', {});
    const flake = this.board.flake(flakeId)?.flake;
    const tile = flake && context.records.tile(context.runId, flake.bestTile);
    if (!flake || !tile) throw new NightjarError('noSuchFlake', { flakeId });
    this.liveSubstrate = tile.substrate;
    this.parts.instrument.setPace('real');
    this.liveView ??= new LiveView(context.instrument, context.travel, context.config.limits, { show: (live) => this.showLive(live), failed: (error) => this.tellTrouble(error) });
    await this.liveView.goTo(liveTarget(context, flake, tile));
  }

  async endLive(): Promise<void> {
    await this.liveView?.end();
  }

  async pause(): Promise<void> {
    this.running('pause').pause();
    await Promise.resolve();
  }

  /** The run takes the instrument back: a live picture ends first, and none begins meanwhile. */
  async goOn(): Promise<void> {
    const night = this.running('go on');
    this.isTakingBack = true;
    try {
      await this.endLive();
      if (night.state.phase === 'paused') {
        this.parts.instrument.setPace('fast');
        await night.takeBack();
      }
      night.goOn();
    } finally {
      this.isTakingBack = false;
    }
  }

  /** Halts whatever moves, first of all; then a live picture ends and the night parks. A convenience, not a safety device. */
  async stop(): Promise<void> {
    if (this.preflight?.isChecking) return this.preflight.stop();
    const { night } = this;
    const isRunning = night !== undefined && !hasEnded(night.state);
    if (isRunning && !this.liveView?.active) return night.stop();
    const { stage, focus } = this.parts.instrument.instrument;
    this.liveView?.abort();
    const halts = await Promise.allSettled([stage.stop(), focus.stop()]);
    await this.endLive();
    if (isRunning) await night.stop();
    for (const halt of halts) if (halt.status === 'rejected') throw halt.reason;
  }

  async giveVerdict(verdict: GivenVerdict): Promise<void> {
    const { judging } = this;
    if (judging?.give(verdict)) return;
    try {
      await this.atDesk().give(verdict);
    } finally {
      judging?.settled(verdict.flakeId);
    }
  }

  async withdrawVerdict(flakeId: string, terrace: number): Promise<void> {
    if (!this.judging?.withdraw(flakeId, terrace)) return this.atDesk().withdraw(flakeId, terrace);
  }

  async nextToJudge(initials: string): Promise<string | undefined> {
    const { judging, context } = this;
    if (!judging || !context) throw new NightjarError('noRun', {});
    const flakeId = judging.next(initials);
    // At the end only: else it would give away which flakes came twice.
    if (flakeId === undefined) this.showConstancy(context);
    return Promise.resolve(flakeId);
  }

  get directory(): string {
    return this.parts.records.directory;
  }

  file(name: string): string | undefined {
    return absoluteFile(this.parts.records.directory, name);
  }

  live(): { readonly bytes: Uint8Array; readonly type: string } | undefined {
    return this.livePicture;
  }

  private async showLive(live: LiveFrame): Promise<void> {
    const { config } = this.parts;
    const picture = toDisplayRgb8(live.frame, { transfer: config.camera.transfer, ...(this.liveSubstrate.length > 0 ? { substrate: this.liveSubstrate } : {}) });
    // Lossless: a lossy picture smooths the faint contrast of a monolayer away.
    const bytes = await encodePictureCrop(picture, { colPx: 0, rowPx: 0, widthPx: picture.widthPx, heightPx: picture.heightPx });
    this.livePicture = { bytes, type: 'image/png' };
    this.liveCount++;
    this.board.tell({ type: 'live', picture: `/live?n=${this.liveCount}`, centreUm: live.centreUm, zUm: live.zUm, atMs: this.parts.waitingClock.now(), flakeId: live.flakeId });
  }

  private tellTrouble(error: unknown): void {
    this.parts.log.warn({ err: error }, 'trouble');
    this.board.addEvent({ atMs: this.parts.waitingClock.now(), kind: 'trouble', text: sentenceFor(error).sentence });
  }

  /** What was said of this night's flakes before is shown, and more may be said. */
  private openDesk(context: NightContext): void {
    const { board } = this;
    this.desk = new VerdictDesk({ context, board, clock: this.parts.waitingClock, recalibrate: this.parts.recalibrate ?? recalibrateHere, mayReread: (chip) => this.isRead(chip) });
    this.judging = new SecondJudging({ records: context.records, runId: context.runId, board, clock: this.parts.waitingClock });
    board.setVerdicts(context.records.verdicts(context.runId));
    this.showConstancy(context);
  }

  private showConstancy({ records, runId }: NightContext): void {
    this.board.setConstancy(constancyOf(records, runId).line);
  }

  /** Counts the layer numbers that came too late for a reading. On a full disk a night is still a night: it is told and left. */
  private async catchUp(): Promise<void> {
    try {
      await this.desk?.catchUp();
    } catch (error) {
      this.tellTrouble(error);
    }
  }

  /** Throws `noRun` before there is a night to speak of. */
  private atDesk(): VerdictDesk {
    if (!this.desk) throw new NightjarError('noRun', {});
    return this.desk;
  }

  /** True when no tile of the chip is still to come. */
  private isRead(name: string): boolean {
    if (!this.night || hasEnded(this.night.state)) return true;
    const chip = this.board.chip(name);
    return chip !== undefined && chip.tilesDone >= chip.tiles;
  }

  private contextOf(opened: OpenedNight): NightContext {
    const { instrument, records, pool, log, writeBytes } = this.parts;
    // A look at the disk takes no time of a simulated night, but must not be outrun by it.
    const freeBytes = (): Promise<number> => instrument.instrument.clock.track(this.parts.freeBytes(), 0);
    return nightContext({ ...opened, records, pool, log, freeBytes, instrument: instrument.instrument, ...(writeBytes ? { writeBytes } : {}) });
  }

  private refuseWhileScanning(asked: string): void {
    const isScanning = this.night && !hasEnded(this.night.state) && this.night.state.phase !== 'paused';
    if (isScanning || this.isTakingBack) throw new NightjarError('notWhileScanning', { asked });
  }

  private running(asked: string): Night {
    const { night } = this;
    if (!night) throw new NightjarError('noRun', {});
    if (hasEnded(night.state)) throw new NightjarError('notInThisState', { asked, state: night.state.phase });
    return night;
  }
}

function liveTarget({ path }: NightContext, flake: Flake, tile: TileRecord): LiveTarget {
  const { lampIntensity, exposureMs, gainDb, turretPosition } = path;
  return { flakeId: flake.id, atUm: flake.centreUm, zUm: tile.zUm, lampIntensity, exposureMs, gainDb, turretPosition };
}
