import { describe, expect, it } from 'vitest';
import { doors } from './doors.ts';

// Protects: whatever comes from outside (files, devices, browsers, command lines, records) gives a value that passes its own schema, or one of our
// own errors that says what and where: no other error, no hang, no crash, nothing written or moved. `npm run fuzz` runs the same laws for longer.

/** Runs of a trial here, shared out over fixed seeds so that a failure comes back. */
const SEEDS = [1, 20_261_126] as const;
const RUNS = 12;

describe.each(doors)('$name', ({ trials }) => {
  it.each(trials)('$name', async ({ run }) => {
    for (const seed of SEEDS) expect((await run(RUNS, seed, () => undefined)).failure).toBeUndefined();
  });
});
