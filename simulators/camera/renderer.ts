import { existsSync } from 'node:fs';
import { dirname, join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { Worker } from 'node:worker_threads';
import { DriverError } from '../../drivers/interfaces/index.ts';
import { renderFrame, type RenderedFrame, type RenderRequest } from './renderFrame.ts';
import type { RenderAnswer, RenderJob } from './renderJob.ts';
import { createScene, type SceneOptions } from './scene.ts';

/** Turns requests into frames. */
export interface Renderer {
  render(request: RenderRequest): Promise<RenderedFrame>;
  close(): Promise<void>;
}

/** Renders in this thread: simple, and enough for small frames. */
export function createInlineRenderer(options: SceneOptions): Renderer {
  const scene = createScene(options);
  return { render: async (request) => renderFrame(scene, request), close: async () => undefined };
}

/** A compiled file, from wherever this one runs: source or build. Throws when nothing has been built. */
function builtFile(relative: string): string {
  let folder = dirname(fileURLToPath(import.meta.url));
  while (!existsSync(join(folder, 'package.json'))) {
    const parent = dirname(folder);
    if (parent === folder) break;
    folder = parent;
  }
  const file = join(folder, '.build', relative);
  if (!existsSync(file)) throw new Error(`.build/${relative} is missing: run \`npm run build\` first`);
  return file;
}

type Waiting = { readonly resolve: (frame: RenderedFrame) => void; readonly reject: (reason: Error) => void };

/** Renders in a thread of its own, so that this one stays free. The same bytes as inline. Throws when nothing has been built. */
export function createWorkerRenderer(options: SceneOptions): Renderer {
  const worker = new Worker(builtFile('simulators/camera/renderWorker.js'), { workerData: options });
  const waiting = new Map<number, Waiting>();
  let nextId = 0;
  let failure: Error | undefined;
  const failAll = (reason: Error) => {
    failure = reason;
    for (const { reject } of waiting.values()) reject(reason);
    waiting.clear();
  };
  worker.on('message', (answer: RenderAnswer) => {
    const asked = waiting.get(answer.id);
    waiting.delete(answer.id);
    if (waiting.size === 0) worker.unref();
    if ('frame' in answer) asked?.resolve(answer.frame);
    else asked?.reject(new Error(answer.problem));
  });
  worker.on('error', (error) => failAll(new DriverError('noFrame', { device: 'camera', problem: String(error) })));
  worker.on('exit', () => failAll(new DriverError('closed', { device: 'camera' })));
  worker.unref();
  return {
    render(request) {
      if (failure) return Promise.reject(failure);
      return new Promise((resolve, reject) => {
        const job: RenderJob = { id: nextId++, request };
        waiting.set(job.id, { resolve, reject });
        // While a frame is awaited the process must not end.
        worker.ref();
        worker.postMessage(job);
      });
    },
    async close() {
      await worker.terminate();
    },
  };
}
