import type { Instrument } from '../../drivers/interfaces/index.ts';
import type { Flake } from '../../planner/flakes/types.ts';
import { toChip, type MarkPair } from '../../planner/frames/chipFrame.ts';
import type { StagePoint } from '../../planner/units/index.ts';
import type { InstrumentConfig } from '../config/instrument.ts';
import { opticalPathFor } from '../config/resolve.ts';
import { NightjarError } from '../errors/index.ts';
import type { Records } from '../records/types.ts';
import { raise } from '../run/approach.ts';
import { changePath } from '../run/changePath.ts';
import { travelLimitsFor } from '../run/context.ts';
import { recordedNight, type OpenedNight } from '../run/openNight.ts';
import { poseOf } from '../run/pose.ts';
import { chipFrames } from '../run/views.ts';
import { ChipPictures } from './chipPictures.ts';
import type { Looking } from './look.ts';
import { findChip, findChipByCorner, goToFlake, type FoundChip, type FoundFlake } from './remount.ts';

/** A chip that was laid down again, on this instrument or another one, and what is wanted of it. */
export interface RemountWish {
  readonly chip: string;
  /** Marks of the chip, as the run sheet of that night has them or as corners of its outline, found again on the stage. */
  readonly marks: readonly MarkPair[];
  /** Instead of marks: about where one of its corners lies, any of them. */
  readonly cornerUm?: StagePoint;
  /** The best flagged one of the chip when left out. */
  readonly flakeId?: string;
}

export interface Remounted {
  readonly found: FoundChip;
  readonly flake: Flake;
  readonly at: FoundFlake;
}

/**
 * From marks to a flake in the middle of the view: the chip is recognised by its pictures before anything drives to the flake, and the
 * flake by its own. Afterwards the objective stands in focus and the lamp is on, for looking; when it fails, the objective is up and the
 * lamp off. Throws `noSuchChip`, `noSuchFlake`, `marksRefused`, `notThisChip`, `doubtfulMatch`, and what the devices throw.
 * @param config the instrument as it is now; the night's own may have been another one
 */
export async function remount(records: Records, config: InstrumentConfig, instrument: Instrument, wish: RemountWish, signal: AbortSignal): Promise<Remounted> {
  const run = records.latestRun();
  if (!run) throw new NightjarError('noRun', {});
  const night = recordedNight(run);
  const then = chipFrames(night).get(wish.chip);
  if (!then) throw new NightjarError('noSuchChip', { chip: wish.chip, known: night.sheet.chips.map(({ name }) => name) });
  const flake = flakeOf(records, night, wish);
  const path = opticalPathFor(night.sheet.opticalPath, config);
  const pathThen = opticalPathFor(night.sheet.opticalPath, night.config);
  const looking: Looking = {
    context: { instrument, config, path, travel: travelLimitsFor(config), sheet: night.sheet },
    pictures: new ChipPictures(records, night.runId, wish.chip, (centreUm) => poseOf({ config: night.config, path: pathThen }, centreUm)),
    then,
    outline: outlineOf(night, wish.chip).map((corner) => toChip(then, corner)),
  };
  try {
    await raise(instrument, config.limits.safeHeightUm, signal);
    await changePath(instrument, path, config.limits.safeHeightUm, signal);
    const found = wish.cornerUm ? await findChipByCorner(looking, wish.chip, wish.cornerUm, signal) : await findChip(looking, wish.chip, wish.marks, signal);
    const at = await goToFlake(looking, { id: flake.id, atChipUm: toChip(then, flake.centreUm) }, found, signal);
    return { found, flake, at };
  } catch (error) {
    await Promise.allSettled([raise(instrument, config.limits.safeHeightUm), instrument.lamp.setIntensity(0)]);
    throw error;
  }
}

function flakeOf(records: Records, night: OpenedNight, { chip, flakeId }: RemountWish): Flake {
  const flakes = records.flakes(night.runId).filter((flake) => flake.chip === chip);
  const wanted = flakeId === undefined ? flakes.filter(({ verdict }) => verdict === 'flagged').sort((a, b) => b.rank - a.rank)[0] : flakes.find(({ id }) => id === flakeId);
  if (!wanted) throw new NightjarError('noSuchFlake', { flakeId: flakeId ?? `flagged on ${chip}` });
  return wanted;
}

function outlineOf({ plan }: OpenedNight, chip: string): readonly StagePoint[] {
  return plan.chips.find(({ name }) => name === chip)?.outlineUm ?? [];
}
