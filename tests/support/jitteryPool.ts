import { setImmediate } from 'node:timers/promises';
import type { FramePool } from '../../daemon/classify/pool.ts';
import { runFrameJob } from '../../daemon/classify/runFrameJob.ts';
import { randomStream } from '../../simulators/random.ts';
import { fitHere } from './inlinePool.ts';

/** Most turns of the event loop that an answer is held back. */
const mostTurns = 60;

/** Answers late by a number of turns of the event loop that differs from frame to frame, so that later frames often come back first. */
export function jitteryPool(seed: number): FramePool & { readonly overtaken: () => number } {
  const random = randomStream(seed, 'pool', 'delay');
  let begun = 0;
  let newest = 0;
  let overtaken = 0;
  return {
    async run(job) {
      const place = ++begun;
      const result = await runFrameJob(job);
      for (let turns = random.below(mostTurns); turns > 0; turns--) await setImmediate();
      if (place < newest) overtaken++;
      newest = Math.max(newest, place);
      return result;
    },
    fit: fitHere,
    close: async () => undefined,
    overtaken: () => overtaken,
  };
}
