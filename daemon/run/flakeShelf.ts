import type { Flake } from '../../planner/flakes/types.ts';
import type { ChipFrame } from '../../planner/frames/chipFrame.ts';
import type { FlakeHead } from '../records/types.ts';
import type { FlakeView } from '../server/messages.ts';
import type { NightContext } from './context.ts';
import { flakeView, withCloseUp } from './views.ts';

/**
 * Where the board finds a night's flakes again, one at a time: a long night has a hundred thousand of them, and their outlines would fill
 * the memory. Whoever changes flakes changes them here first and tells the board then.
 */
export interface FlakeShelf {
  /** All of them in short, in the order in which they were found. */
  heads(): readonly FlakeHead[];
  one(id: string): FlakeView | undefined;
  /** Every flake of a chip, those rejected too, read as they are asked for. */
  ofChip(chip: string): Iterable<Flake>;
}

/** Whether pages are shown it: what lies on the camera's sensor is not on the chip, recurs in every frame, and stays in the records alone. */
export function isOnChip({ reject }: Pick<FlakeHead, 'reject'>): boolean {
  return reject !== 'sensorDust';
}

/** The flakes as the records have them. */
export function recordedShelf({ records, runId, config }: Pick<NightContext, 'records' | 'runId' | 'config'>, frames: ReadonlyMap<string, ChipFrame>): FlakeShelf {
  return {
    heads: () => records.flakeHeads(runId),
    one(id) {
      const flake = records.flake(runId, id);
      return flake && withCloseUp(flakeView(flake, records.crop(runId, id), frames.get(flake.chip)), records.closeUpsOf(runId, id).at(-1), config);
    },
    *ofChip(chip) {
      for (const { id } of records.flakeHeads(runId, chip)) {
        const flake = records.flake(runId, id);
        if (flake) yield flake;
      }
    },
  };
}
