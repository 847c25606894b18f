import type { FramePool } from '../../daemon/classify/pool.ts';
import { runFrameJob } from '../../daemon/classify/runFrameJob.ts';
import { fitHere } from './inlinePool.ts';

/** A pool that answers for a tile only when told to; focus frames (negative numbers) are answered at once. */
export interface HeldPool extends FramePool {
  /** Tiles that wait for an answer, oldest first. */
  readonly held: readonly number[];
  /** Every tile that was ever handed over, in order. */
  readonly seen: readonly number[];
  /** Most that ever waited at one time. */
  readonly most: () => number;
  /** Lets the tile at this place of `held` be answered. */
  release(place: number): void;
  /** From now on everything is answered at once. */
  open(): void;
}

export function heldPool(): HeldPool {
  const held: number[] = [];
  const seen: number[] = [];
  const doors: (() => void)[] = [];
  let most = 0;
  let isOpen = false;
  const release = (place: number): void => {
    const [door] = doors.splice(place, 1);
    held.splice(place, 1);
    door?.();
  };
  return {
    held,
    seen,
    most: () => most,
    release,
    open() {
      isOpen = true;
      while (doors.length > 0) release(0);
    },
    async run(job) {
      if (job.tile >= 0) {
        seen.push(job.tile);
        if (!isOpen) {
          held.push(job.tile);
          most = Math.max(most, held.length);
          await new Promise<void>((resolve) => doors.push(resolve));
        }
      }
      return runFrameJob(job);
    },
    fit: fitHere,
    close: async () => undefined,
  };
}
