import { parentPort, threadId } from 'node:worker_threads';

// A worker as it looks from outside while a call of the library hangs: it opens, says that it was asked to close, and answers nothing else.
const info = { model: 'hanging', widthPx: 16, heightPx: 16, pixelFormat: 'mono8', bits: 8, exposureMinMs: 1, exposureMaxMs: 100 };
const counters = { frames: 1, retries: 0, missingPackets: 0, resentPackets: 0, timeouts: 0, reopenings: 0, lastFrameId: threadId };

parentPort?.on('message', ({ id, task }) => {
  const outcomes = { open: { kind: 'opened', facts: { info, serial: 'H1' } }, configure: { kind: 'configured', settings: task.settings }, close: { kind: 'closed' } };
  const outcome = outcomes[task.kind];
  if (outcome) parentPort?.postMessage({ id, outcome, counters });
  if (task.kind === 'close') parentPort?.close();
});
