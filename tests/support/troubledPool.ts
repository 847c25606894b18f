import type { FramePool } from '../../daemon/classify/pool.ts';
import { NightjarError } from '../../daemon/errors/index.ts';

/** A pool whose workers fail when told to. */
export interface TroubledPool extends FramePool {
  /** The next frames kill every worker that tries them: they are given up as the real pool gives them up. */
  crash(times?: number): void;
  /** The next frames are never answered. Under a virtual clock a tracked job then holds time itself: see the fault `hangWork` for that. */
  hang(times?: number): void;
  /** No worker can be started any more. */
  loseWorkers(): void;
  /** How often it has failed in each of these ways. */
  readonly struck: { readonly crash: number; readonly hang: number; readonly workerLost: number };
}

export function troubledPool(pool: FramePool): TroubledPool {
  const left = { crash: 0, hang: 0, workerLost: 0 };
  const struck = { crash: 0, hang: 0, workerLost: 0 };
  const strikes = (name: keyof typeof left): boolean => {
    if (left[name] <= 0) return false;
    left[name]--;
    struck[name]++;
    return true;
  };
  return {
    struck,
    crash: (times = 1) => (left.crash = times),
    hang: (times = 1) => (left.hang = times),
    loseWorkers: () => (left.workerLost = Number.POSITIVE_INFINITY),
    async run(job) {
      if (strikes('workerLost')) throw new NightjarError('workerLost', { exitCode: 1 });
      if (strikes('crash')) throw new NightjarError('classifierFailed', { message: `tile ${job.tile}, try 2: the worker ended with code 134` });
      if (strikes('hang')) return new Promise(() => undefined);
      return pool.run(job);
    },
    fit: (request) => pool.fit(request),
    close: () => pool.close(),
  };
}
