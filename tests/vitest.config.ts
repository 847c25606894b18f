import { defineConfig } from 'vitest/config';

/**
 * One configuration for every test: files stand beside the room they look into, and two workers suit the two cores of CI. A worker keeps
 * its modules from file to file: no module of ours keeps a state of the program, and loading them anew for each file took a minute and a half.
 */
export default defineConfig({
  test: {
    root: '.',
    include: ['tests/**/*.test.ts'],
    globalSetup: ['tests/globalSetup.ts'],
    pool: 'forks',
    isolate: false,
    maxWorkers: 2,
    testTimeout: 30_000,
    hookTimeout: 60_000,
  },
});
