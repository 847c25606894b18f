import { defineConfig } from 'vitest/config';

/** One configuration for every test: files stand beside the room they look into, and two workers suit the two cores of CI. */
export default defineConfig({
  test: {
    root: '.',
    include: ['tests/**/*.test.ts'],
    globalSetup: ['tests/globalSetup.ts'],
    pool: 'forks',
    maxWorkers: 2,
    testTimeout: 30_000,
    hookTimeout: 60_000,
  },
});
