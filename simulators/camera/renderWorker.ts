import { parentPort, workerData } from 'node:worker_threads';
import { renderFrame } from './renderFrame.ts';
import type { RenderAnswer, RenderJob } from './renderJob.ts';
import { createScene, type SceneOptions } from './scene.ts';

/** The thread behind `createWorkerRenderer`: builds the same scene from the same options, and answers one request after the other. */
const scene = createScene(workerData as SceneOptions);

parentPort?.on('message', ({ id, request }: RenderJob) => {
  let answer: RenderAnswer;
  try {
    answer = { id, frame: renderFrame(scene, request) };
  } catch (error) {
    answer = { id, problem: String(error) };
  }
  parentPort?.postMessage(answer, 'frame' in answer ? [answer.frame.data.buffer as ArrayBuffer] : []);
});
