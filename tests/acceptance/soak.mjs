// Scans thousands of small frames in virtual time and watches the memory of the process: what it holds at the end must be within a
// bound of what it held after 500 tiles, and no frame may be missing. Linux only (/proc).
// node tests/acceptance/soak.mjs [--tiles 2000]
import { readFileSync, rmSync } from 'node:fs';
import { join } from 'node:path';
import { makeNight, options, readNight, startScan, tilesRecorded } from './night.mjs';

const { tiles: wanted } = options({ tiles: 2000 });
const baselineTiles = 500;
/** What a night may keep of each tile (a row for the page, its flakes), and how unsteady a collected heap is. */
const perTileBytes = 8 * 1024;
const slackBytes = 48 * 1024 * 1024;
const samplePeriodMs = 200;

/** Frames so small that the demo's three chips take more than enough of them. */
const night = makeNight('soak', (instrument) => {
  const { camera } = instrument;
  const scale = 0.19 * Math.sqrt(2000 / wanted);
  camera.widthPx = 16 * Math.round((camera.widthPx * scale) / 16);
  camera.heightPx = 16 * Math.round((camera.heightPx * scale) / 16);
});
const data = join(night.folder, 'data');

function residentBytes(pid) {
  try {
    return 1024 * Number(/^VmRSS:\s+(\d+) kB/m.exec(readFileSync(`/proc/${pid}/status`, 'utf8'))?.[1] ?? 0);
  } catch {
    return 0;
  }
}

/** Looks at memory and tiles until the process ends. */
async function watch({ child, ended }) {
  const samples = [];
  const timer = setInterval(() => {
    const bytes = residentBytes(child.pid);
    if (bytes > 0) samples.push({ tiles: tilesRecorded(data), bytes });
  }, samplePeriodMs);
  const end = await ended;
  clearInterval(timer);
  if (end.code !== 0) throw new Error(`nightjar scan ended with ${end.code ?? end.signal}:\n${end.said}`);
  return samples;
}

function median(values) {
  return [...values].sort((a, b) => a - b)[Math.floor(values.length / 2)] ?? 0;
}

const megabytes = (bytes) => `${(bytes / 1e6).toFixed(0)} MB`;
const begin = performance.now();
const samples = await watch(startScan(night, data));
const seconds = (performance.now() - begin) / 1000;
const { tiles, planned, state } = readNight(data);
const near = (from, to) => median(samples.filter((sample) => sample.tiles >= from && sample.tiles <= to).map(({ bytes }) => bytes));
const baseline = near(baselineTiles * 0.8, baselineTiles * 1.2);
const end = near(tiles.length * 0.9, tiles.length);
const bound = baseline + slackBytes + perTileBytes * (tiles.length - baselineTiles);
console.log(`${tiles.length} tiles in ${seconds.toFixed(0)} s, ${(tiles.length / seconds).toFixed(1)} a second; memory ${megabytes(baseline)} after ${baselineTiles} tiles, ${megabytes(end)} at the end (${megabytes(bound)} allowed)`);
const wrong = [];
if (state !== 'finished') wrong.push(`the night is ${state}, not finished`);
if (tiles.length < wanted) wrong.push(`only ${tiles.length} tiles, ${wanted} are wanted`);
if (tiles.length !== planned.length) wrong.push(`${planned.length} tiles were planned, ${tiles.length} recorded`);
if (baseline === 0 || end === 0) wrong.push('the scan was too fast to be watched');
if (end > bound) wrong.push('memory grows with the scan');
for (const what of wrong) console.log(`WRONG ${what}`);
if (wrong.length === 0) rmSync(night.folder, { recursive: true });
else console.log(`the folder is left in ${night.folder}`);
process.exitCode = wrong.length === 0 ? 0 : 1;
