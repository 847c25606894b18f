// Loaded into the process that soak.mjs watches: at SIGUSR2 it collects all garbage of the main thread and writes down what is left.
import { writeFileSync } from 'node:fs';
import { isMainThread } from 'node:worker_threads';

const file = process.env.NIGHTJAR_SOAK_PROBE;
if (isMainThread && file) {
  process.on('SIGUSR2', () => {
    globalThis.gc?.();
    writeFileSync(file, JSON.stringify(process.memoryUsage()));
  });
}
