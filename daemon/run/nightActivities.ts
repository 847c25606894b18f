import { DriverError } from '../../drivers/interfaces/index.ts';
import { measuresThickness } from '../../planner/layers/tuning.ts';
import type { Tile } from '../../planner/plan/types.ts';
import type { StagePoint } from '../../planner/units/index.ts';
import { NightjarError } from '../errors/index.ts';
import type { FramePipeline } from '../pipeline/framePipeline.ts';
import type { TileItem, TileResult } from '../pipeline/tileWork.ts';
import { goTo } from './approach.ts';
import type { ChipStates } from './chipStates.ts';
import type { NightContext } from './context.ts';
import { finish, park } from './endOfNight.ts';
import type { Activities } from './executor.ts';
import { mapFocus } from './focusMapping.ts';
import type { RunEvent, RunMachine, TileToTake } from './machine.ts';
import { prepare } from './prepare.ts';
import { recover } from './recover.ts';
import type { Reporter } from './reporter.ts';
import { TileCamera } from './secondExposure.ts';
import { WayAhead } from './wayAhead.ts';

type Pipeline = FramePipeline<TileItem, TileResult>;

/** What the run does in the world, at the instrument and towards the records. */
export class NightActivities implements Activities {
  private readonly context: NightContext;
  private readonly chips: ChipStates;
  private readonly pipeline: Pipeline;
  private readonly reporter: Reporter;
  private readonly send: (event: RunEvent) => void;
  private readonly tiles: ReadonlyMap<number, Tile>;
  private readonly camera: TileCamera;
  private readonly ahead = new WayAhead();
  /** The tile that comes after one, on the same chip. */
  private readonly nextTile: ReadonlyMap<number, number>;

  constructor(context: NightContext, chips: ChipStates, pipeline: Pipeline, reporter: Reporter, send: (event: RunEvent) => void, todo: readonly TileToTake[]) {
    this.context = context;
    this.chips = chips;
    this.pipeline = pipeline;
    this.reporter = reporter;
    this.send = send;
    this.camera = new TileCamera(context);
    this.nextTile = new Map(todo.slice(1).flatMap(({ tile, chip }, i) => (todo[i]?.chip === chip ? [[todo[i].tile, tile] as const] : [])));
    this.tiles = new Map(context.plan.chips.flatMap((chip) => chip.tiles.map((tile) => [tile.index, tile] as const)));
  }

  async prepare(signal: AbortSignal): Promise<void> {
    this.chips.setDark(await prepare(this.context, signal));
  }

  /** Measures focus, and takes the frames in focus as the first guess of the flat field. */
  async mapFocus(name: string, signal: AbortSignal): Promise<void> {
    const chip = this.chips.chip(name);
    await this.ahead.rest();
    const mapped = await mapFocus(this.context, chip, (point, of) => this.reporter.focusing(name, point, of), signal);
    this.chips.setFocus(name, mapped.points, mapped.surface);
    for (const [index, { frame, atUm }] of mapped.frames.entries()) {
      const pose = this.chips.poseOf(atUm);
      const job = { tile: -1 - index, input: { frame, pose, optics: this.chips.optics(name) } };
      const { measurement } = await this.context.instrument.clock.track(this.context.pool.run(job), flatFrameMs);
      this.chips.addFlat(name, measurement);
      this.chips.addSightings(measurement, pose);
    }
    this.context.records.saveChip(this.context.runId, this.chips.record(name));
    this.reporter.focused(name, `focus found at ${mapped.points.length} of ${chip.focusPointsUm.length} points`);
  }

  async takeTile(index: number, signal: AbortSignal): Promise<void> {
    await this.room();
    const tile = this.tile(index);
    const zUm = this.focusUm(tile);
    const atUm = await this.ahead.arrive(index, () => this.goTo(tile, signal));
    const exposed = await this.camera.expose(measuresBrightness(this.context, tile.chip), signal, () => this.setOut(index, signal));
    this.pipeline.push({ kind: 'frame', tile, ...exposed, pose: this.chips.poseOf(atUm), zUm, optics: this.chips.optics(tile.chip) });
  }

  /** Begins the way to the tile after this one. */
  private setOut(index: number, signal: AbortSignal): void {
    const next = this.nextTile.get(index);
    if (next !== undefined) this.ahead.begin(next, () => this.goTo(this.tile(next), signal));
  }

  private async goTo(tile: Tile, signal: AbortSignal): Promise<StagePoint> {
    return goTo(this.context.instrument, tile.centreUm, this.focusUm(tile), { ...this.context.travel, overUm: this.chips.chip(tile.chip).outlineUm }, signal);
  }

  private focusUm(tile: Tile): number {
    const focusUm = this.chips.focusUm(tile.chip, tile.centreUm);
    if (focusUm === undefined) throw new NightjarError('focusNotFound', { chip: tile.chip, triedUm: 0, tile: tile.index });
    return focusUm;
  }

  async skipTiles(tiles: readonly number[], code: string): Promise<void> {
    for (const index of tiles) {
      await this.pipeline.room();
      this.pipeline.push({ kind: 'skipped', tile: this.tile(index), reason: code, atMs: this.context.instrument.clock.now() });
    }
  }

  async recover(code: string, attempt: number, signal: AbortSignal): Promise<void> {
    await this.ahead.rest();
    return recover(this.context, code, attempt, signal);
  }

  async drain(): Promise<void> {
    await this.ahead.rest();
    return this.pipeline.drained();
  }

  async park(): Promise<void> {
    await this.ahead.rest();
    this.reporter.unsafe(await park(this.context));
  }

  async finish(): Promise<void> {
    this.reporter.unsafe(await finish(this.context));
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

/** Whether what is wanted of this chip's flakes is read from how bright they are. */
function measuresBrightness({ sheet }: NightContext, chip: string): boolean {
  const material = sheet.chips.find(({ name }) => name === chip)?.material;
  return material !== undefined && measuresThickness({ material });
}

/** Time that a focus frame takes on a virtual clock to be read for the flat field. */
const flatFrameMs = 200;
