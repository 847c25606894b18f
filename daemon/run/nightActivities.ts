import { DriverError, type CameraFrame } from '../../drivers/interfaces/index.ts';
import { measuresThickness } from '../../planner/layers/tuning.ts';
import type { Tile } from '../../planner/plan/types.ts';
import type { StagePoint } from '../../planner/units/index.ts';
import type { CloseUps } from '../closeUps/pass.ts';
import { NightjarError } from '../errors/index.ts';
import { KnownFlakeVisits } from '../knownFlake/visits.ts';
import type { FramePipeline } from '../pipeline/framePipeline.ts';
import type { TileItem, TileResult } from '../pipeline/tileWork.ts';
import type { ChipStates } from './chipStates.ts';
import type { NightContext } from './context.ts';
import { finish, park } from './endOfNight.ts';
import type { Activities } from './executor.ts';
import { FlatFrames } from './flatFrames.ts';
import { FocusedTiles } from './focusedTiles.ts';
import { FocusKeeper } from './focusKeeper.ts';
import { FrameCheck } from './frameCheck.ts';
import type { TakenTile } from './heldTiles.ts';
import { mapFocus } from './focusMapping.ts';
import { mappedSentence, warmUpSentence } from './focusSentences.ts';
import type { RunEvent, RunMachine, TileToTake } from './machine.ts';
import { prepare } from './prepare.ts';
import { recover, type Recovered } from './recover.ts';
import type { Reporter } from './reporter.ts';
import { TileCamera } from './secondExposure.ts';

type Pipeline = FramePipeline<TileItem, TileResult>;

/** What the run does in the world, at the instrument and towards the records. */
export class NightActivities implements Activities {
  private readonly context: NightContext;
  private readonly chips: ChipStates;
  private readonly pipeline: Pipeline;
  private readonly reporter: Reporter;
  private readonly send: (event: RunEvent) => void;
  private readonly tiles: ReadonlyMap<number, Tile>;
  private readonly flats: FlatFrames;
  private readonly keeper: FocusKeeper;
  private readonly inFocus: FocusedTiles;
  private readonly closeUps: CloseUps | undefined;
  private readonly knownFlake: KnownFlakeVisits | undefined;
  /** Close-ups have begun: from then on the instrument is on their optical path. */
  private isOnCloseUps = false;

  constructor(context: NightContext, chips: ChipStates, pipeline: Pipeline, reporter: Reporter, send: (event: RunEvent) => void, todo: readonly TileToTake[], closeUps?: CloseUps) {
    this.context = context;
    this.chips = chips;
    this.pipeline = pipeline;
    this.reporter = reporter;
    this.send = send;
    this.closeUps = closeUps;
    this.knownFlake = knownFlakeOf(context, chips, reporter);
    this.tiles = new Map(context.plan.chips.flatMap((chip) => chip.tiles.map((tile) => [tile.index, tile] as const)));
    // The tile that comes after one, on the same chip.
    const next = new Map(todo.slice(1).flatMap(({ tile, chip }, i) => (todo[i]?.chip === chip ? [[todo[i].tile, tile] as const] : [])));
    this.flats = new FlatFrames(context, chips);
    this.keeper = new FocusKeeper(context, (chip, text) => reporter.focused(chip, text));
    this.inFocus = new FocusedTiles({
      context,
      keeper: this.keeper,
      camera: new TileCamera(context),
      check: new FrameCheck({ transfer: context.config.camera.transfer, requireNew: context.requireNew, darkLevel: () => Math.max(0, ...this.chips.darkLevels) }),
      nextOf: ({ index }) => this.tiles.get(next.get(index) ?? -1),
      measuresBrightness: ({ chip }) => measuresBrightness(context, chip),
    });
  }

  async prepare(signal: AbortSignal): Promise<void> {
    const dark = await prepare(this.context, (text) => this.reporter.preflight(text), signal);
    if (dark) this.chips.setDark(dark);
    const warmUp = warmUpSentence(this.context.config.focus.warmUpMin);
    if (warmUp !== undefined) this.reporter.preflight(warmUp);
  }

  /** Measures focus; the frames in focus are the first guess of the flat field, which the first tile waits for. */
  async mapFocus(name: string, signal: AbortSignal): Promise<void> {
    const chip = this.chips.chip(name);
    await this.inFocus.rest();
    if (this.inFocus.holdsOf === name) this.inFocus.takeAgain();
    else await this.endChip();
    await this.knownFlake?.visit('first', signal);
    const listener = {
      point: (done: number, of: number) => this.reporter.focusing(name, done, of),
      frame: (frame: CameraFrame, atUm: StagePoint) => this.flats.add(name, frame, atUm),
    };
    const mapped = await mapFocus(this.keeper.forMapping(name), chip, listener, signal);
    this.chips.setFocus(name, mapped.measured.map(({ point }) => point));
    this.reporter.focused(name, mappedSentence(mapped, chip));
    this.keeper.begin(chip, mapped);
  }

  async takeTile(index: number, signal: AbortSignal): Promise<void> {
    await this.room();
    const tile = this.tile(index);
    const taken = await this.inFocus.take(tile, signal);
    await this.flatsRead(tile.chip);
    await this.handOver(taken, signal);
  }

  /** Whoever was given up meanwhile hands nothing over any more: the tiles are still to be taken. */
  private async handOver(taken: readonly TakenTile[], signal?: AbortSignal): Promise<void> {
    for (const { tile, exposed, pose, zUm } of taken) {
      await this.room();
      signal?.throwIfAborted();
      this.pipeline.push({ kind: 'frame', tile, ...exposed, pose, zUm, optics: this.chips.optics(tile.chip) });
    }
  }

  /** Nothing more is taken of the chip: frames that nothing has shown to be out of focus count, and tiles that were to be taken again are left out. */
  private async endChip(): Promise<void> {
    const { held, owed } = this.inFocus.empty();
    await this.handOver(held);
    await this.skipTiles(owed.map(({ index }) => index), 'outOfFocus');
  }

  private async flatsRead(chip: string): Promise<void> {
    if (!this.flats.pending) return;
    await this.flats.settled();
    this.context.records.saveChip(this.context.runId, this.chips.record(chip));
  }

  async skipTiles(tiles: readonly number[], code: string): Promise<void> {
    // A chip that has no focus any more is left out with what was not known to be in focus.
    const { held, owed } = code === 'focusNotFound' ? this.inFocus.empty() : { held: [], owed: [] };
    for (const index of new Set([...owed.map((tile) => tile.index), ...held.map(({ tile }) => tile.index), ...tiles])) {
      this.inFocus.leaveOut(index);
      await this.pipeline.room();
      this.pipeline.push({ kind: 'skipped', tile: this.tile(index), reason: code, atMs: this.context.instrument.clock.now() });
    }
  }

  /** Waits for the last tiles: what is looked at again depends on all of them. Before that the known flake is gone to once more. */
  async chooseCloseUps(signal: AbortSignal): Promise<readonly string[]> {
    const { closeUps } = this;
    await this.endChip();
    await this.drain();
    await this.knownFlake?.visit('last', signal);
    if (!closeUps) return [];
    this.isOnCloseUps = true;
    const choice = await closeUps.choose(signal);
    this.reporter.closeUpsChosen(choice);
    return choice.flakes;
  }

  async takeCloseUp(flake: string, signal: AbortSignal): Promise<boolean> {
    return (await this.closeUps?.take(flake, signal)) ?? false;
  }

  /** Where even this cannot be written, the next close-up meets the same and parks the run. */
  async skipCloseUp(flake: string, code: string): Promise<void> {
    try {
      this.closeUps?.skip(flake, code);
    } catch (error) {
      this.reporter.trouble(error);
    }
    await Promise.resolve();
  }

  async recover(code: string, attempt: number, signal: AbortSignal): Promise<Recovered> {
    await this.inFocus.rest();
    return recover(this.isOnCloseUps && this.closeUps ? this.closeUps.context : this.context, code, attempt, () => this.reporter.looked(), signal);
  }

  async drain(): Promise<void> {
    await this.inFocus.rest();
    // A frame less for the flat field stops no drain, but is told.
    await this.flats.settled().catch((error: unknown) => this.codeOf(error));
    return this.pipeline.drained();
  }

  async park(): Promise<void> {
    await this.inFocus.rest();
    this.reporter.madeSafe(await park(this.context));
  }

  async finish(): Promise<void> {
    await this.endChip();
    await this.drain();
    this.reporter.madeSafe(await finish(this.context));
  }

  async halt(): Promise<void> {
    await Promise.all([this.context.instrument.stage.stop(), this.context.instrument.focus.stop()]);
  }

  stepped(before: RunMachine, after: RunMachine): void {
    this.reporter.stepped(before, after);
  }

  /** What a person stopped is no trouble; all else is told. */
  codeOf(error: unknown): string {
    const stopped = error instanceof DriverError && error.code === 'stopped';
    return stopped ? error.code : this.reporter.trouble(error);
  }

  private async room(): Promise<void> {
    if (!this.pipeline.full) return;
    this.send({ type: 'queueFull' });
    await this.pipeline.room();
    this.send({ type: 'queueFree' });
  }

  private tile(index: number): Tile {
    const tile = this.tiles.get(index);
    if (!tile) throw new NightjarError('internal', { reason: `the plan has no tile ${index}` });
    return tile;
  }
}

/** Undefined where the instrument has none. */
function knownFlakeOf(context: NightContext, chips: ChipStates, reporter: Reporter): KnownFlakeVisits | undefined {
  const { knownFlake } = context.config;
  const [chip] = context.plan.chips;
  return knownFlake && chip && new KnownFlakeVisits(context, knownFlake, () => chips.optics(chip.name), (sentence) => reporter.knownFlake(sentence));
}

/** Whether what is wanted of this chip's flakes is read from how bright they are. */
function measuresBrightness({ sheet }: NightContext, chip: string): boolean {
  const material = sheet.chips.find(({ name }) => name === chip)?.material;
  return material !== undefined && measuresThickness({ material });
}
