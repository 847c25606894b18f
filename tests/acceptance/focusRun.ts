import type { CameraFrame } from '../../drivers/interfaces/index.ts';
import { FocusedTiles } from '../../daemon/run/focusedTiles.ts';
import { FocusKeeper, type CheckOutcome } from '../../daemon/run/focusKeeper.ts';
import { mapFocus } from '../../daemon/run/focusMapping.ts';
import { mappedSentence } from '../../daemon/run/focusSentences.ts';
import { FrameCheck } from '../../daemon/run/frameCheck.ts';
import type { TakenTile } from '../../daemon/run/heldTiles.ts';
import { TileCamera } from '../../daemon/run/secondExposure.ts';
import { waveDepthOfFieldUm } from '../../planner/focus/depthOfField.ts';
import type { Sharpness } from '../../planner/focus/watch.ts';
import type { FocusSurface } from '../../planner/focus/surface.ts';
import { sliceOf } from '../../planner/focus/frameFocus.ts';
import { zAtUm } from '../../planner/focus/surface.ts';
import type { PlannedChip, Tile } from '../../planner/plan/types.ts';
import { pixelToStage, type FramePose } from '../../planner/units/index.ts';
import { CAMERA, makeFocusNight, OBJECTIVES, type FocusNight, type NightMake, type TrueExposure } from './focusWorld.ts';

export { OBJECTIVES } from './focusWorld.ts';

export interface NightResult {
  readonly frames: number;
  /** Frames of which the middle and all four corners lie within half the depth of field. */
  readonly inFocus: number;
  readonly divided: number;
  /** Largest true distance from focus in each frame, over half the depth of field. */
  readonly worst: readonly number[];
  /** Checks of focus after the chips were mapped. */
  readonly checks: number;
  readonly hours: number;
  readonly forecastHours: number;
  readonly lost: readonly string[];
  readonly events: readonly string[];
}

/** Middle and corners of a frame, as shares of its sides: the middles of the corners' squares, from which all of them comes. */
const CORNERS = [[0.5, 0.5], [0, 0], [1, 0], [0, 1], [1, 1]] as const;

/** What truly was when a frame was judged. */
interface Truth {
  readonly exposures: readonly TrueExposure[];
  readonly surface: FocusSurface | undefined;
  readonly offsetUm: number;
}

/** The run's own keeper, with an onlooker who knows at which true heights each frame was exposed. */
class WatchedKeeper extends FocusKeeper {
  readonly truths = new Map<FramePose, Truth>();
  takeExposures: () => readonly TrueExposure[] = () => [];
  checked = 0;

  override judge(tile: Tile, frame: CameraFrame, pose: FramePose): Sharpness {
    this.truths.set(pose, { exposures: this.takeExposures(), surface: this.surface, offsetUm: this.offsetUm });
    return super.judge(tile, frame, pose);
  }

  override async check(tile: Tile, again: readonly number[], signal: AbortSignal): Promise<CheckOutcome> {
    this.checked++;
    return super.check(tile, again, signal);
  }
}

/** Runs one night with the run's own code and holds every frame against the simulator's truth. Throws when a chip has no focus. */
export async function runFocusNight(make: NightMake): Promise<NightResult> {
  const night = makeFocusNight(make);
  const { context, clock } = night;
  const { signal } = new AbortController();
  const events: string[] = [];
  const lost: string[] = [];
  const worst: number[] = [];
  let divided = 0;
  const beganMs = clock.now();
  await context.instrument.lamp.setIntensity(context.path.lampIntensity);
  const keeper = new WatchedKeeper(context, (chip, text) => events.push(`${((clock.now() - beganMs) / 60_000).toFixed(1)} min ${chip}: ${text}`));
  keeper.takeExposures = () => night.takeExposures();
  for (const chip of context.plan.chips) {
    const mapped = await mapFocus(keeper.forMapping(chip.name), chip, { point: () => undefined, frame: () => undefined }, signal);
    events.push(`${((clock.now() - beganMs) / 60_000).toFixed(1)} min ${chip.name}: ${mappedSentence(mapped, chip)}`);
    keeper.begin(chip, mapped);
    const tiles = tilesOf(chip, night, keeper);
    for (const tile of chip.tiles) {
      for (const taken of await tiles.take(tile, signal)) {
      if (taken.focus.slices.length > 1) divided++;
      const away = awayOf(taken, night, keeper.truths.get(taken.pose)) / (waveDepthOfFieldUm(OBJECTIVES[make.objective].numericalAperture) / 2);
      worst.push(away);
      if (!(away <= 1)) lost.push(`${((clock.now() - beganMs) / 60_000).toFixed(1)} min ${chip.name} tile ${taken.tile.index}: ${away.toFixed(2)} of half the depth of field, expected ${taken.focus.worstUm.toFixed(2)} um, ${taken.focus.slices.length} heights`);
      }
    }
    keeper.truths.clear();
    await tiles.rest();
  }
  return { frames: worst.length, inFocus: worst.length - lost.length, divided, worst, checks: keeper.checked, hours: (clock.now() - beganMs) / 3_600_000, forecastHours: context.plan.forecastS / 3600, lost, events };
}

function tilesOf(chip: PlannedChip, { context }: FocusNight, keeper: FocusKeeper): FocusedTiles {
  const next = new Map(chip.tiles.map((tile, i) => [tile.index, chip.tiles[i + 1]] as const));
  return new FocusedTiles({ context, keeper, camera: new TileCamera(context), check: new FrameCheck({ transfer: 'linear', requireNew: () => undefined, darkLevel: () => 0 }), nextOf: ({ index }: Tile) => next.get(index), measuresBrightness: () => false });
}

/** How far the worst of a frame's middle and corners truly was from focus, in um, each in the exposure that it was taken from. */
function awayOf({ pose, focus }: TakenTile, night: FocusNight, truth: Truth | undefined): number {
  const exposures = truth?.exposures.slice(-focus.slices.length) ?? [];
  const { surface, offsetUm } = truth ?? { surface: undefined, offsetUm: 0 };
  if (!surface || exposures.length !== focus.slices.length) return Number.NaN;
  return CORNERS.reduce((worst, [right, down]) => {
    const place = { colPx: right * CAMERA.widthPx, rowPx: down * CAMERA.heightPx };
    const exposure = exposures[sliceOf(focus.slices, zAtUm(surface, pixelToStage(pose, place)) + offsetUm)];
    if (!exposure) return Number.NaN;
    return Math.max(worst, Math.abs(night.defocusUm(pixelToStage({ ...pose, centreUm: exposure.atUm }, place), exposure.zUm)));
  }, 0);
}
