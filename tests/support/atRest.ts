import { setImmediate } from 'node:timers/promises';

/** A virtual clock needs three turns of the event loop for each jump; after so many without a change nothing goes on any more. */
const quietTurns = 200;

/** Resolves when `state` has stayed the same for many turns of the event loop: whatever is under way has come to rest. */
export async function atRest(state: () => number): Promise<void> {
  let last = state();
  for (let quiet = 0; quiet < quietTurns; quiet++) {
    await setImmediate();
    if (state() === last) continue;
    last = state();
    quiet = 0;
  }
}
