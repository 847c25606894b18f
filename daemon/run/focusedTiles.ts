import type { CameraFrame } from '../../drivers/interfaces/index.ts';
import type { FrameFocus } from '../../planner/focus/frameFocus.ts';
import { zAtUm } from '../../planner/focus/surface.ts';
import type { Tile } from '../../planner/plan/types.ts';
import { median } from '../../planner/units/median.ts';
import type { StagePoint } from '../../planner/units/index.ts';
import { NightjarError } from '../errors/index.ts';
import { goTo, reachZ } from './approach.ts';
import { putTogether } from './dividedFrame.ts';
import type { FocusKeeper } from './focusKeeper.ts';
import type { FrameCheck } from './frameCheck.ts';
import { spread } from './repeats.ts';
import { overChip, type MappingContext } from './focusMapping.ts';
import { HeldTiles, type TakenTile } from './heldTiles.ts';
import { wholeFrame } from './focusPoint.ts';
import { poseOf } from './pose.ts';
import type { Exposed, TileCamera } from './secondExposure.ts';
import { WayAhead } from './wayAhead.ts';

/** Checks of focus at one tile because of what frames show. */
const mostChecks = 2;
/** Frames in a row without light: then the light is the trouble, and nothing is held back for focus. */
const mostDark = 2;
/** A frame with less than this share of the most light seen may tell of a lamp that fades, which whoever watches it has to hear of. */
const fading = 0.9;

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
 * for the next tile while the last exposure is read out, holds frames back until a later one shows that they are in focus, and takes
 * tiles again when focus had jumped.
 */
export class FocusedTiles {
  private readonly parts: FocusedTilesParts;
  private readonly ahead = new WayAhead();
  /** The heights that a tile is being approached for. */
  private readonly aimed = new Map<number, FrameFocus>();
  private readonly held = new HeldTiles();
  private darkInARow = 0;
  private mostLight = 0;
  private isFading = false;

  constructor(parts: FocusedTilesParts) {
    this.parts = parts;
  }

  /**
   * Takes a tile, after those that are owed. Resolves with the tiles that are known to be in focus by now, in order: none, or several. The
   * last tile of a chip leaves none behind. Throws `focusLost`; then tiles that may be out of focus are owed.
   */
  async take(tile: Tile, signal: AbortSignal): Promise<readonly TakenTile[]> {
    const { keeper, nextOf } = this.parts;
    // It was taken before, and what came then failed.
    this.held.drop(tile.index);
    if (keeper.isDue) await this.check(tile, signal);
    for (let checks = 0; ; checks++) {
      const isDoubtful = await this.takeUpTo(tile, signal);
      const isLeftOpen = checks === 0 && !nextOf(tile) && this.held.hasUnproven && this.darkInARow === 0;
      if (!isDoubtful && checks > 0) this.held.prove();
      if (checks === mostChecks || !(isDoubtful || isLeftOpen) || !(await this.check(tile, signal))) break;
    }
    if (!nextOf(tile) || this.isFading || this.darkInARow >= mostDark) this.held.prove();
    return this.held.letGo();
  }

  /** A tile is left out. */
  leaveOut(tile: number): void {
    this.held.drop(tile);
  }

  /** A chip is mapped anew: what was taken of it and is not proven is taken again. */
  takeAgain(): void {
    this.held.owe();
  }

  /** Nothing more is taken of a chip. */
  empty(): ReturnType<HeldTiles['empty']> {
    return this.held.empty();
  }

  /** The chip of which tiles are held or owed. */
  get holdsOf(): string | undefined {
    return this.held.chip;
  }

  /** Resolves with true when the last frame raises a doubt. */
  private async takeUpTo(tile: Tile, signal: AbortSignal): Promise<boolean> {
    const { keeper, check } = this.parts;
    for (const one of this.held.upTo(tile)) {
      const taken = await this.expose(one, signal);
      this.held.hold(taken);
      const isLit = check.isLit(taken.exposed.frame);
      const light = median(spread(taken.exposed.frame));
      this.mostLight = Math.max(this.mostLight, light);
      this.isFading = light < fading * this.mostLight;
      this.darkInARow = isLit ? 0 : this.darkInARow + 1;
      const sharpness = isLit ? keeper.judge(one, taken.exposed.frame, taken.pose) : 'silent';
      if (sharpness === 'sharp') this.held.prove();
      if (sharpness !== 'doubtful') continue;
      await this.rest();
      return true;
    }
    return false;
  }

  /** Measures focus again. Resolves with true when it had jumped: what is not proven is owed then. */
  private async check(tile: Tile, signal: AbortSignal): Promise<boolean> {
    const { keeper } = this.parts;
    await this.rest();
    const outcome = await keeper.check(tile, this.held.unproven, signal);
    if (outcome === 'steady') this.held.prove();
    if (outcome === 'jumped') this.held.owe();
    if (outcome === 'lost') await this.lose(tile, signal);
    return outcome === 'jumped';
  }

  /** Without light nothing can be told of focus, and the frames will say what is wrong. */
  private async lose(tile: Tile, signal: AbortSignal): Promise<void> {
    const { context, keeper, check } = this.parts;
    const frame: CameraFrame = await wholeFrame(context, signal);
    if (!check.isLit(frame)) return keeper.postpone();
    this.held.owe();
    throw new NightjarError('focusLost', { chip: tile.chip, ...(keeper.lostByUm === undefined ? {} : { foundUm: keeper.lostByUm }) });
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
    if (!one || shots.length === 1) return { tile, exposed: one ?? { frame: await context.instrument.camera.snap(signal) }, pose, zUm, focus };
    const frame = together(shots.map((shot) => shot.frame)) ?? one.frame;
    // All heights see the same field: nearly always all of them have a shorter exposure, or none. Where not, what is too bright stays so.
    const shorts = shots.flatMap(({ short }) => (short ? [short] : []));
    const short = shorts.length === shots.length ? together(shorts) : undefined;
    return { tile, exposed: { frame, ...(short ? { short } : {}) }, pose, zUm, focus };
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
      if (shot.short) check.requireNew(shot.short);
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
