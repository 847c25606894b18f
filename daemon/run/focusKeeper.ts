import type { CameraFrame } from '../../drivers/interfaces/index.ts';
import { addDriftCheck, afterMapping, beginDrift, CHECK_ERROR_SHARE, checkDueMs, driftAllowedUm, driftErrorUm, predictDrift, type DriftState } from '../../planner/focus/drift.ts';
import { diagonalUm, frameFocus, MOST_SLICES, type FrameFocus } from '../../planner/focus/frameFocus.ts';
import { addKnownEdges, NO_EDGES, runEnded, runForgotten, watchEdges, type EdgeWatch } from '../../planner/focus/ownSharpness.ts';
import { LEAST_REACH } from '../../planner/focus/prediction.ts';
import { errorAtUm, zAtUm, type FocusSurface } from '../../planner/focus/surface.ts';
import { NOTHING_WATCHED, proven, texturedFrames, watchSharpness, withoutUnproven, type Sharpness, type SharpnessWatch } from '../../planner/focus/watch.ts';
import type { PlannedChip, Tile } from '../../planner/plan/types.ts';
import { distanceUm, pixelToStage, type FramePose, type StagePoint } from '../../planner/units/index.ts';
import { NightjarError } from '../errors/index.ts';
import { overChip, type MappedFocus, type MappingContext } from './focusMapping.ts';
import { samplesOf } from './focusMeasure.ts';
import { depthOfFieldOf, measurePoint, setWindow, type FocusPlace, type MeasuredPoint } from './focusPoint.ts';
import { driftSentence, stepSentence, tiltSentence } from './focusSentences.ts';
import { poseOf } from './pose.ts';

/** Standard errors that a frame's height is kept away from the edge of the depth of field (common practice, no source). */
const sigmas = 2;
/** Points tried for one check, and frames just taken. */
const mostPlaces = 3;
const mostSeen = 2;
/** After a check that found no focus anywhere, doubts are not heeded for so long. */
const calmMs = 20_000;
/** Deviations up to this share of the depth of field are no step. */
const harmlessShare = 0.25;
/** Where focus is lost it is looked for so far above and below, within the limits, and as far as the steps of a sweep stay within about two depths of field (our own choice). */
const lostReachUm = 120;
const lostReachDepths = 48;
/** A jump this large may have taken the next chips along: they are looked for where it leads, too (share of the usual range). */
const largeJumpShare = 0.25;

/** A place at which focus can be measured again. */
interface CheckPlace {
  readonly place: FocusPlace;
  /** Where focus lay when the surface was measured, and one standard error of that. */
  readonly zUm: number;
  readonly errorUm: number;
  /** Focus was measured at this very place; else the surface says where it lay. */
  readonly isPoint: boolean;
  /** How far above and below it is searched; what the drift's error asks for when left out. */
  readonly rangeUm?: number;
}

/** What is kept of the chip being scanned. */
interface ChipFocus {
  readonly chip: PlannedChip;
  readonly surface: FocusSurface;
  readonly points: readonly MeasuredPoint[];
}

/** What a point's repetition tells of the drift since the middle of the mapping. */
function withRepetition(drift: DriftState, { repeated }: MappedFocus, leastErrorUm: number): DriftState {
  if (!repeated || repeated.after.atMs <= repeated.before.atMs) return drift;
  const { before, after } = repeated;
  const share = (after.atMs - drift.atMs) / (after.atMs - before.atMs);
  const offsetUm = share * (after.point.zUm - before.point.zUm);
  const errorUm = Math.hypot(before.point.errorUm, after.point.errorUm, leastErrorUm);
  return addDriftCheck(drift, { atMs: after.atMs, offsetUm, errorUm }, Infinity).state;
}

/** What a check found: focus where it was thought to be, or elsewhere; or nowhere near, so that the chip is to be mapped anew. */
export type CheckOutcome = 'steady' | 'jumped' | 'lost';

/** Who is told what people should know of focus. */
export type TellFocus = (chip: string, text: string) => void;

/**
 * Keeps focus through the night: knows the surface of the chip being scanned and how far focus has drifted since, says at which heights a
 * frame is to be taken, says when a focus point is due to be measured again, and measures it. All times are those of the instrument's clock.
 */
export class FocusKeeper {
  private readonly context: MappingContext;
  private readonly tell: TellFocus;
  private present: ChipFocus | undefined;
  private drift: DriftState | undefined;
  private checks = 0;
  private begunMs = 0;
  private dueMs = Infinity;
  private calmUntilMs = 0;
  private watch: SharpnessWatch = NOTHING_WATCHED;
  private edges: EdgeWatch = NO_EDGES;
  /** How far jumps have moved focus this night. */
  private jumpedUm = 0;
  /** The chip whose focus was lost, and where it was seen last. */
  private lost: { readonly chip: string; readonly zUm?: number; readonly byUm?: number } | undefined;
  /** Tiles taken since focus was last known to be right. */
  private unproven: number[] = [];

  constructor(context: MappingContext, tell: TellFocus) {
    this.context = context;
    this.tell = tell;
  }

  /** Full depth of field, in um. */
  get depthOfFieldUm(): number {
    return depthOfFieldOf(this.context);
  }

  /** A chip's surface has just been measured: drift counts from now on. Tells people of a tilt that is too much for whole frames. */
  begin(chip: PlannedChip, mapped: MappedFocus): void {
    const nowMs = this.now();
    const errorUm = mapped.surface.pointErrorUm / Math.sqrt(mapped.measured.length);
    const atMs = mapped.measured.reduce((sum, point) => sum + point.atMs, 0) / mapped.measured.length;
    const mappedDrift = this.drift ? afterMapping(this.drift, atMs, errorUm) : beginDrift(atMs, errorUm);
    this.drift = withRepetition(mappedDrift, mapped, CHECK_ERROR_SHARE * this.depthOfFieldUm);
    if (this.checks === 0) this.begunMs = nowMs;
    this.present = { chip, surface: mapped.surface, points: mapped.measured };
    this.watch = mapped.watch;
    this.edges = mapped.watch.frames.reduce((watch, { map }) => addKnownEdges(watch, map), NO_EDGES);
    this.unproven = [];
    this.lost = undefined;
    this.schedule();
    const frames = chip.tiles.map((tile) => this.focusAt(tile, poseOf(this.context, tile.centreUm)));
    const bears = {
      fieldDiagonalUm: diagonalUm(poseOf(this.context, mapped.surface.centreUm)),
      errorUm: sigmas * errorAtUm(mapped.surface, mapped.surface.centreUm),
      depthOfFieldUm: this.depthOfFieldUm,
    };
    const told = tiltSentence(mapped.surface, chip, frames, bears, this.mostSlices > 1);
    if (told !== undefined) this.tell(chip.name, told);
  }

  /** At which heights a frame of this tile is to be exposed now, the drift made up for. Throws `focusNotFound` before the chip was mapped. */
  focusAt(tile: Tile, pose: FramePose): FrameFocus {
    const { present, drift } = this;
    if (!drift || present?.chip.name !== tile.chip) throw new NightjarError('focusNotFound', { chip: tile.chip, triedUm: 0, tile: tile.index });
    const now = predictDrift(drift, this.now());
    const errorUm = sigmas * Math.hypot(errorAtUm(present.surface, pose.centreUm), driftErrorUm(now), CHECK_ERROR_SHARE * this.depthOfFieldUm);
    return frameFocus(present.surface, pose, now.offsetUm, errorUm, this.depthOfFieldUm, this.mostSlices);
  }

  /** Whether focus is to be measured again before the next tile. */
  get isDue(): boolean {
    return this.now() >= this.dueMs;
  }

  /** What a tile's frame tells of focus, by what earlier ones show of the same edges and by its own. A doubt asks for a check at once. */
  judge(tile: Tile, frame: CameraFrame, pose: FramePose): Sharpness {
    const { watch, sharpness, map } = watchSharpness(this.watch, samplesOf(frame), pose);
    const { watch: edges, own, isBlurredOrBare } = watchEdges(this.edges, map);
    this.watch = watch;
    this.edges = edges;
    // What few pixels of overlap say of a frame that shows nothing itself may be their noise.
    const isSharp = sharpness !== 'doubtful' && (own === 'sharp' || (sharpness === 'sharp' && !isBlurredOrBare));
    const isDoubtful = sharpness === 'doubtful' || (!isSharp && own === 'unlikely');
    this.unproven = isSharp ? [] : [...this.unproven, tile.index];
    return isDoubtful && this.now() >= this.calmUntilMs ? 'doubtful' : isSharp ? 'sharp' : 'silent';
  }

  /**
   * The night as a chip's focus is to be mapped in: where focus was lost, from where it was seen last, or over as much as can be searched;
   * and after a large jump, where that leads, for it may have been the stand's.
   */
  forMapping(chip: string): MappingContext {
    const { context, jumpedUm } = this;
    const { rangeUm } = context.sheet.focus;
    const { expectedUm } = context.config.focus;
    const from = (startUm: number, reachUm: number): MappingContext => ({ ...context, config: { ...context.config, focus: { ...context.config.focus, expectedUm: startUm } }, sheet: { ...context.sheet, focus: { ...context.sheet.focus, rangeUm: reachUm } } });
    if (this.lost?.chip === chip) return this.lost.zUm === undefined ? from(expectedUm, this.lostRangeUm) : from(this.lost.zUm - context.path.parfocalUm, rangeUm);
    return Math.abs(jumpedUm) > largeJumpShare * rangeUm ? from(expectedUm + jumpedUm, Math.min(this.lostRangeUm, rangeUm + Math.abs(jumpedUm))) : context;
  }

  /** By how much the focus that was lost had jumped, where it was seen farther off. */
  get lostByUm(): number | undefined {
    return this.lost?.byUm;
  }

  /** Nothing could be told, for want of light: doubts are not heeded for a while, and the next check comes in its time. */
  postpone(): void {
    this.lost = undefined;
    this.schedule(this.now());
    this.calmUntilMs = this.now() + calmMs;
  }

  /**
   * Measures focus again, and takes what it finds into the drift: where the stage stands or at a frame taken just before, if that shows
   * something and the surface is known there; else at the nearest of the chip's points. When focus had jumped, people are told, and what
   * of the tiles taken since it was last known to be right is not taken again is named. Where no place shows focus within the range, focus is lost, though it may have been seen farther off.
   * @param again tiles that are taken again after a jump
   */
  async check(tile: Tile, again: readonly number[], signal: AbortSignal): Promise<CheckOutcome> {
    const { present, drift } = this;
    if (!present || !drift) return 'steady';
    const found = await this.measureNear(present, signal);
    await setWindow(this.context);
    if (!found || found.isFar) {
      this.lost = { chip: tile.chip, ...(found ? { zUm: zAtUm(present.surface, present.surface.centreUm) + found.offsetUm, byUm: found.offsetUm - predictDrift(drift, found.atMs).offsetUm } : {}) };
      if (found) this.jumpedUm += this.lost.byUm ?? 0;
      return 'lost';
    }
    const { state, stepUm } = addDriftCheck(drift, found, harmlessShare * this.depthOfFieldUm);
    this.drift = state;
    this.checks++;
    this.schedule();
    if (this.checks === 1 && stepUm === undefined) this.tell(tile.chip, driftSentence(state, (found.atMs - this.begunMs) / 1000, this.context.config.focus.warmUpMin));
    this.watch = stepUm === undefined ? proven(this.watch) : withoutUnproven(this.watch);
    this.edges = stepUm === undefined ? runEnded(this.edges) : runForgotten(this.edges);
    if (stepUm !== undefined) {
      this.jumpedUm += stepUm;
      this.tell(tile.chip, stepSentence(stepUm, this.unproven.filter((index) => index !== tile.index && !again.includes(index)), again, present.chip));
    }
    this.unproven = [];
    return stepUm === undefined ? 'steady' : 'jumped';
  }

  private async measureNear({ chip, surface, points }: ChipFocus, signal: AbortSignal): Promise<{ atMs: number; offsetUm: number; errorUm: number; isFar: boolean } | undefined> {
    const context = overChip(this.context, chip);
    const { rangeUm } = context.sheet.focus;
    const standsAtUm = await context.instrument.stage.position();
    for (const { place, zUm, errorUm, isPoint, rangeUm: reachUm } of this.places(surface, points, standsAtUm)) {
      const now = predictDrift(this.drift ?? beginDrift(this.now(), 0), this.now());
      const nearUm = Math.max(LEAST_REACH * this.depthOfFieldUm, 2 * sigmas * driftErrorUm(now));
      const again = await measurePoint(context, place, { centreUm: zUm + now.offsetUm, rangeUm: reachUm ?? nearUm }, rangeUm, signal);
      if (!again) continue;
      const beforeUm = isPoint ? zUm : zAtUm(surface, again.point.atUm);
      return { atMs: again.atMs, offsetUm: again.point.zUm - beforeUm, errorUm: Math.hypot(again.point.errorUm, errorUm, CHECK_ERROR_SHARE * this.depthOfFieldUm), isFar: (reachUm ?? 0) > rangeUm };
    }
    return undefined;
  }

  /**
   * Where a check is made, best first: what was just seen, then the points; then the points once more, over the whole range, and last as far as can be. Each with the
   * height at which focus lay there when the surface was measured.
   */
  private places(surface: FocusSurface, points: readonly MeasuredPoint[], standsAtUm: StagePoint): readonly CheckPlace[] {
    const seen = texturedFrames(this.watch, standsAtUm, mostSeen).map(({ pose, look }): CheckPlace => {
      const at = pixelToStage(pose, { colPx: look.right * pose.widthPx, rowPx: look.down * pose.heightPx });
      return { place: { standUm: pose.centreUm, look }, zUm: zAtUm(surface, at), errorUm: errorAtUm(surface, at), isPoint: false };
    });
    const nearest = [...points].sort((a, b) => distanceUm(a.point.atUm, standsAtUm) - distanceUm(b.point.atUm, standsAtUm)).slice(0, mostPlaces);
    const known = nearest.map(({ point, place }): CheckPlace => ({ place, zUm: point.zUm, errorUm: point.errorUm, isPoint: true }));
    return [...seen.filter(({ errorUm }) => errorUm <= driftAllowedUm(this.depthOfFieldUm)), ...known, ...[this.context.sheet.focus.rangeUm, this.lostRangeUm].flatMap((rangeUm) => known.map((one) => ({ ...one, rangeUm })))];
  }

  private schedule(fromMs = this.drift?.atMs ?? 0): void {
    this.dueMs = this.drift ? checkDueMs(predictDrift(this.drift, fromMs), this.depthOfFieldUm) : Infinity;
  }

  private get lostRangeUm(): number {
    return Math.max(this.context.sheet.focus.rangeUm, Math.min(lostReachUm, lostReachDepths * this.depthOfFieldUm));
  }

  private get mostSlices(): number {
    return this.context.sheet.focus.onTilt === 'divide' ? MOST_SLICES : 1;
  }

  private now(): number {
    return this.context.instrument.clock.now();
  }

  /** The chip being scanned. */
  get chip(): PlannedChip | undefined {
    return this.present?.chip;
  }

  /** Surface of the chip being scanned, for putting a divided frame together. */
  get surface(): FocusSurface | undefined {
    return this.present?.surface;
  }

  /** How far focus has moved by now since that surface was measured. */
  get offsetUm(): number {
    return this.drift ? predictDrift(this.drift, this.now()).offsetUm : 0;
  }
}
