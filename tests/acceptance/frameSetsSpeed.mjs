// Times the pixel passes of the built classifier on drawn frames, in one thread, against one streaming pass over the same frame.
// usage: node tests/acceptance/frameSetsSpeed.mjs [FRAME_SET_DIR] [--most-ms N]
// Without a folder it draws a frame of its own. CPU time, medians. Ends with 1 above --most-ms per frame.
import { basename } from 'node:path';

const built = (file) => new URL(`../../.build/${file}`, import.meta.url).href;
const { measureFrame } = await import(built('daemon/vision/measureFrame.js'));
const { openFrameSet } = await import(built('drivers/frameset/index.js'));

const REPEATS = 7;
const argument = process.argv.slice(2);
const most = argument.includes('--most-ms') ? Number(argument[argument.indexOf('--most-ms') + 1]) : Infinity;
const folder = argument.find((a, i) => !a.startsWith('--') && argument[i - 1] !== '--most-ms');

const median = (values) => [...values].sort((a, b) => a - b)[values.length >> 1];

function cpuMs(run) {
  const before = process.cpuUsage();
  run();
  const used = process.cpuUsage(before);
  return (used.user + used.system) / 1000;
}

/** Substrate with noise and 40 flakes, 1224x1024 RGB8; no two columns of flakes begin at one row, which only a torn frame would do so sharply. */
function drawn() {
  const [widthPx, heightPx] = [1224, 1024];
  const data = new Uint8Array(widthPx * heightPx * 3);
  let state = 12345;
  const next = () => (state = (state * 48271) % 2147483647) / 2147483647;
  for (let i = 0; i < widthPx * heightPx; i++) {
    const [col, row] = [i % widthPx, Math.floor(i / widthPx)];
    const inFlake = col % 150 < 20 && (row + 23 * Math.floor(col / 150)) % 200 < 30;
    for (let c = 0; c < 3; c++) data[3 * i + c] = Math.round([90, 100, 180][c] * (inFlake ? 0.9 : 1) + 3 * (next() + next() + next() - 1.5));
  }
  return { widthPx, heightPx, pixelFormat: 'rgb8', bits: 8, data, exposureMs: 0, takenAtMs: 0 };
}

async function inputs() {
  const optics = { transfer: 'linear', numericalAperture: 0.3, dark: [0, 0, 0], flare: [0, 0, 0] };
  if (!folder) {
    const frame = drawn();
    return { name: 'drawn', list: [{ frame, optics, pose: { centreUm: { xUm: 0, yUm: 0 }, cameraToStageUm: [0.69, 0, 0, 0.69], widthPx: frame.widthPx, heightPx: frame.heightPx } }] };
  }
  const set = await openFrameSet(folder);
  const list = [];
  for (let i = 0; i < Math.min(6, set.frames.length); i++) {
    const frame = await set.readFrame(i);
    const pose = { centreUm: set.frames[i], cameraToStageUm: set.cameraToStageUm, widthPx: frame.widthPx, heightPx: frame.heightPx };
    list.push({ frame, pose, optics: { ...optics, transfer: set.transfer, numericalAperture: set.objective.numericalAperture } });
  }
  return { name: basename(folder), list };
}

/** The bound: every sample read once, and added to. */
function stream(data, to) {
  for (let i = 0; i < data.length; i++) to[i] = data[i] * 0.5 + 1;
}

const { name, list } = await inputs();
const [first] = list;
const to = new Float32Array(first.frame.data.length);
for (const input of list) measureFrame(input);
const frameMs = median(Array.from({ length: REPEATS }, () => cpuMs(() => list.forEach((input) => measureFrame(input))) / list.length));
for (let i = 0; i < 20; i++) stream(first.frame.data, to);
const streamMs = median(Array.from({ length: REPEATS }, () => cpuMs(() => { for (let i = 0; i < 10; i++) stream(first.frame.data, to); }) / 10));
console.log(JSON.stringify({ set: name, widthPx: first.frame.widthPx, heightPx: first.frame.heightPx, msPerFrame: Number(frameMs.toFixed(1)), framesPerS: Number((1000 / frameMs).toFixed(1)), streamMs: Number(streamMs.toFixed(2)), ratioToStream: Number((frameMs / streamMs).toFixed(1)) }));
process.exitCode = frameMs > most ? 1 : 0;
