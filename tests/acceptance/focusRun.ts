import { FocusedTiles, type TakenTile } from '../../daemon/run/focusedTiles.ts';
import { FocusKeeper } from '../../daemon/run/focusKeeper.ts';
import { mapFocus } from '../../daemon/run/focusMapping.ts';
import { mappedSentence } from '../../daemon/run/focusSentences.ts';
import { FrameCheck } from '../../daemon/run/frameCheck.ts';
import { TileCamera } from '../../daemon/run/secondExposure.ts';
import { waveDepthOfFieldUm } from '../../planner/focus/depthOfField.ts';
import { sliceOf } from '../../planner/focus/frameFocus.ts';
import { zAtUm } from '../../planner/focus/surface.ts';
import type { PlannedChip, Tile } from '../../planner/plan/types.ts';
import { pixelToStage } from '../../planner/units/index.ts';
import { CAMERA, makeFocusNight, OBJECTIVES, type FocusNight, type NightMake, type TrueExposure } from './focusWorld.ts';

export { OBJECTIVES } from './focusWorld.ts';

export interface NightResult {
  readonly frames: number;
  /** Frames of which the middle and all four corners lie within half the depth of field. */
  readonly inFocus: number;
  readonly divided: number;
  /** Largest true distance from focus in each frame, over half the depth of field. */
  readonly worst: readonly number[];
  readonly hours: number;
  readonly forecastHours: number;
  readonly lost: readonly string[];
  readonly events: readonly string[];
}

/** Middle and corners of a frame, as shares of its sides: the middles of the corners' squares, from which all of them comes. */
const CORNERS = [[0.5, 0.5], [0, 0], [1, 0], [0, 1], [1, 1]] as const;

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
  const keeper = new FocusKeeper(context, (chip, text) => events.push(`${((clock.now() - beganMs) / 60_000).toFixed(1)} min ${chip}: ${text}`));
  for (const chip of context.plan.chips) {
    const mapped = await mapFocus(context, chip, { point: () => undefined, frame: () => undefined }, signal);
    events.push(`${((clock.now() - beganMs) / 60_000).toFixed(1)} min ${chip.name}: ${mappedSentence(mapped, chip)}`);
    keeper.begin(chip, mapped);
    const tiles = tilesOf(chip, night, keeper);
    for (const tile of chip.tiles) {
      night.takeExposures();
      const taken = await tiles.take(tile, signal);
      if (taken.focus.slices.length > 1) divided++;
      const away = awayOf(taken, night, keeper) / (waveDepthOfFieldUm(OBJECTIVES[make.objective].numericalAperture) / 2);
      worst.push(away);
      if (!(away <= 1)) lost.push(`${((clock.now() - beganMs) / 60_000).toFixed(1)} min ${chip.name} tile ${tile.index}: ${away.toFixed(2)} of half the depth of field, expected ${taken.focus.worstUm.toFixed(2)} um, ${taken.focus.slices.length} heights`);
    }
    await tiles.rest();
  }
  return { frames: worst.length, inFocus: worst.length - lost.length, divided, worst, hours: (clock.now() - beganMs) / 3_600_000, forecastHours: context.plan.forecastS / 3600, lost, events };
}

function tilesOf(chip: PlannedChip, { context }: FocusNight, keeper: FocusKeeper): FocusedTiles {
  const next = new Map(chip.tiles.map((tile, i) => [tile.index, chip.tiles[i + 1]] as const));
  return new FocusedTiles({ context, keeper, camera: new TileCamera(context), check: new FrameCheck({ transfer: 'linear', mayRepeat: false, darkLevel: () => 0 }), nextOf: ({ index }: Tile) => next.get(index), measuresBrightness: () => false });
}

/** How far the worst of a frame's middle and corners truly was from focus, in um, each in the exposure that it was taken from. */
function awayOf({ pose, focus }: TakenTile, night: FocusNight, keeper: FocusKeeper): number {
  const exposures: readonly TrueExposure[] = night.takeExposures().slice(-focus.slices.length);
  const { surface, offsetUm } = keeper;
  if (!surface || exposures.length !== focus.slices.length) return Number.NaN;
  return CORNERS.reduce((worst, [right, down]) => {
    const place = { colPx: right * CAMERA.widthPx, rowPx: down * CAMERA.heightPx };
    const exposure = exposures[sliceOf(focus.slices, zAtUm(surface, pixelToStage(pose, place)) + offsetUm)];
    if (!exposure) return Number.NaN;
    return Math.max(worst, Math.abs(night.defocusUm(pixelToStage({ ...pose, centreUm: exposure.atUm }, place), exposure.zUm)));
  }, 0);
}
