import type { FrameFocus } from '../../planner/focus/frameFocus.ts';
import { zAtUm } from '../../planner/focus/surface.ts';
import type { Tile } from '../../planner/plan/types.ts';
import type { FramePose, StagePoint } from '../../planner/units/index.ts';
import { goTo, reachZ } from './approach.ts';
import { putTogether } from './dividedFrame.ts';
import type { FocusKeeper } from './focusKeeper.ts';
import type { FrameCheck } from './frameCheck.ts';
import { overChip, type MappingContext } from './focusMapping.ts';
import { poseOf } from './pose.ts';
import type { Exposed, TileCamera } from './secondExposure.ts';
import { WayAhead } from './wayAhead.ts';

/** A tile's frame, in focus as far as is known. */
export interface TakenTile {
  readonly exposed: Exposed;
  readonly pose: FramePose;
  /** Middle of the heights at which it was taken. */
  readonly zUm: number;
  readonly focus: FrameFocus;
}

export interface FocusedTilesParts {
  readonly context: MappingContext;
  readonly keeper: FocusKeeper;
  readonly camera: TileCamera;
  readonly check: FrameCheck;
  /** The tile that comes after one, on the same chip. */
  readonly nextOf: (tile: Tile) => Tile | undefined;
  /** Whether a second, shorter exposure may be needed; see `TileCamera`. */
  readonly measuresBrightness: (tile: Tile) => boolean;
}

/**
 * Takes tiles in focus: has focus measured again where that is due, goes there, exposes at as many heights as the tilt asks for, sets out
 * for the next tile while the last exposure is read out, and takes a tile again whose frame shows that focus had jumped.
 */
export class FocusedTiles {
  private readonly parts: FocusedTilesParts;
  private readonly ahead = new WayAhead();
  /** The heights that a tile is being approached for. */
  private readonly aimed = new Map<number, FrameFocus>();

  constructor(parts: FocusedTilesParts) {
    this.parts = parts;
  }

  async take(tile: Tile, signal: AbortSignal): Promise<TakenTile> {
    const { keeper } = this.parts;
    if (keeper.isDue) {
      await this.rest();
      await keeper.check(tile, signal);
    }
    const taken = await this.expose(tile, signal);
    if (keeper.judge(tile, taken.exposed.frame, taken.pose) !== 'doubtful') return taken;
    await this.rest();
    return (await keeper.check(tile, signal)) ? this.expose(tile, signal) : taken;
  }

  /** Resolves when no way is under way any more: whoever wants the stage for anything else asks for it. */
  async rest(): Promise<void> {
    await this.ahead.rest();
    this.aimed.clear();
  }

  private async expose(tile: Tile, signal: AbortSignal): Promise<TakenTile> {
    const { context, keeper } = this.parts;
    const atUm = await this.ahead.arrive(tile.index, () => this.goTo(tile, signal));
    const pose = poseOf(context, atUm);
    const focus = this.aimed.get(tile.index) ?? keeper.focusAt(tile, pose);
    this.aimed.clear();
    const offsetUm = keeper.offsetUm;
    const shots = await this.shoot(tile, focus, signal);
    const { surface } = keeper;
    const [first, last] = [focus.slices[0], focus.slices[focus.slices.length - 1]];
    const zUm = ((first?.zUm ?? 0) + (last?.zUm ?? 0)) / 2;
    const together = (frames: readonly Exposed['frame'][]): Exposed['frame'] | undefined =>
      surface && putTogether(frames, focus.slices, pose, (at) => zAtUm(surface, at) + offsetUm);
    const [one] = shots;
    if (!one || shots.length === 1) return { exposed: one ?? { frame: await context.instrument.camera.snap(signal) }, pose, zUm, focus };
    const frame = together(shots.map((shot) => shot.frame)) ?? one.frame;
    // All heights see the same field: nearly always all of them have a shorter exposure, or none. Where not, what is too bright stays so.
    const shorts = shots.flatMap(({ short }) => (short ? [short] : []));
    const short = shorts.length === shots.length ? together(shorts) : undefined;
    return { exposed: { frame, ...(short ? { short } : {}) }, pose, zUm, focus };
  }

  /** One exposure at each height, rising; the drive goes on while the one before is read out. */
  private async shoot(tile: Tile, focus: FrameFocus, signal: AbortSignal): Promise<readonly Exposed[]> {
    const { context, camera, check, measuresBrightness } = this.parts;
    const { instrument, travel } = context;
    const shots: Exposed[] = [];
    for (const [i] of focus.slices.entries()) {
      const next = focus.slices[i + 1];
      const shot = await camera.expose(measuresBrightness(tile), signal, next ? undefined : () => this.setOut(tile, signal));
      check.require(tile.index, shot.frame);
      shots.push(shot);
      if (!next) continue;
      await reachZ(instrument, next.zUm, travel.takeUpUm ?? 0, signal);
      await instrument.clock.sleep(travel.focusSettleMs, signal);
    }
    return shots;
  }

  /** Begins the way to the tile after this one, unless focus is measured first. */
  private setOut(tile: Tile, signal: AbortSignal): void {
    const next = this.parts.nextOf(tile);
    if (next && !this.parts.keeper.isDue) this.ahead.begin(next.index, () => this.goTo(next, signal));
  }

  private async goTo(tile: Tile, signal: AbortSignal): Promise<StagePoint> {
    const { context, keeper } = this.parts;
    const focus = keeper.focusAt(tile, poseOf(context, tile.centreUm));
    this.aimed.set(tile.index, focus);
    return goTo(context.instrument, tile.centreUm, focus.slices[0]?.zUm ?? Number.NaN, (keeper.chip ? overChip(context, keeper.chip) : context).travel, signal);
  }
}
