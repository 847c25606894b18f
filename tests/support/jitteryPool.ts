import { setImmediate } from 'node:timers/promises';
import type { FramePool } from '../../daemon/classify/pool.ts';
import { runFrameJob } from '../../daemon/classify/runFrameJob.ts';
import { randomStream } from '../../simulators/random.ts';
import { fitHere } from './inlinePool.ts';

/** Most turns of the event loop that an answer is held back: the last frame of a night has none behind it. */
const mostTurns = 5000;

/** Holds about half of the answers back until a later one has come back, whatever the computer's speed. */
export function jitteryPool(seed: number): FramePool & { readonly overtaken: () => number } {
  const random = randomStream(seed, 'pool', 'delay');
  let begun = 0;
  let newest = 0;
  let overtaken = 0;
  return {
    async run(job) {
      const place = ++begun;
      const isHeld = random.below(2) === 0;
      const result = await runFrameJob(job);
      for (let turns = isHeld ? mostTurns : 0; turns > 0; turns--) {
        if (newest > place) break;
        await setImmediate();
      }
      if (place < newest) overtaken++;
      newest = Math.max(newest, place);
      return result;
    },
    fit: fitHere,
    close: async () => undefined,
    overtaken: () => overtaken,
  };
}
