// Scans thousands of small frames in virtual time and watches the memory of the process: what it holds at the end must be within a
// bound of what it held after 500 tiles, and no frame may be missing. Linux only (/proc).
// node tests/acceptance/soak.mjs [--tiles 2000]
import { readFileSync, rmSync } from 'node:fs';
import { join } from 'node:path';
import { makeNight, options, readNight, startScan, tileCounter } from './night.mjs';

const { tiles: wanted } = options({ tiles: 2000 });
const baselineTiles = 500;
/**
 * What a night may keep of each tile: outlines and readings of what was found, for merging and for the page; less than half of one of
 * these frames (156 kB), so that a frame kept anywhere shows. And how unsteady a collected heap is.
 */
const perTileBytes = 64 * 1024;
const slackBytes = 32 * 1024 * 1024;
/** Little room for what is no longer used, so that the process's memory shows what it holds and not how late it tidies up. */
const collectOften = ['--max-semi-space-size=4', '--max-old-space-size=160'];
const samplePeriodMs = 200;
const rimUm = 100;

/**
 * Small frames that overlap much, so that the demo's three chips take more than enough of them; and many places to look for focus, since
 * most of so small frames show nothing to focus on.
 */
const night = makeNight('soak', (instrument, runSheet) => {
  const { camera } = instrument;
  camera.widthPx = 256;
  camera.heightPx = 208;
  const areaUm2 = runSheet.chips.reduce((sum, { outline: { rectangle } }) => sum + (rectangle.widthUm - 2 * rimUm) * (rectangle.heightUm - 2 * rimUm), 0);
  const frameUm2 = camera.widthPx * camera.heightPx * (camera.pixelPitchUm / 10) ** 2;
  runSheet.overlap = Math.min(0.5, Math.max(0, 1 - Math.sqrt(areaUm2 / (1.02 * wanted * frameUm2))));
  runSheet.focus.pointsPerChip = 24;
  for (const chip of runSheet.chips) chip.edgeMarginUm = rimUm;
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
  const tilesNow = tileCounter(data);
  const timer = setInterval(() => {
    const bytes = residentBytes(child.pid);
    if (bytes > 0) samples.push({ tiles: tilesNow(), bytes });
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
const samples = await watch(startScan(night, data, [], collectOften));
const seconds = (performance.now() - begin) / 1000;
const { tiles, planned, state } = readNight(data);
const near = (from, to) => median(samples.filter((sample) => sample.tiles >= from && sample.tiles <= to).map(({ bytes }) => bytes));
const baseline = near(baselineTiles * 0.8, baselineTiles * 1.2);
const end = near(tiles.length * 0.9, tiles.length);
const bound = baseline + slackBytes + perTileBytes * (tiles.length - baselineTiles);
console.log(`${tiles.length} tiles in ${seconds.toFixed(0)} s, ${(tiles.length / seconds).toFixed(1)} a second; memory ${megabytes(baseline)} after ${baselineTiles} tiles, ${megabytes(end)} at the end: ${((end - baseline) / 1024 / (tiles.length - baselineTiles)).toFixed(0)} kB a tile (${megabytes(bound)} allowed)`);
const wrong = [];
if (state !== 'finished') wrong.push(`the night is ${state}, not finished`);
if (tiles.length < wanted) wrong.push(`only ${tiles.length} tiles, ${wanted} are wanted`);
const skipped = tiles.filter(({ outcome }) => outcome !== 'done').length;
if (skipped > 0) wrong.push(`${skipped} tiles were skipped: ${[...new Set(tiles.map(({ reason }) => reason).filter((reason) => reason !== null))].join(', ')}`);
if (tiles.length !== planned.length) wrong.push(`${planned.length} tiles were planned, ${tiles.length} recorded`);
if (baseline === 0 || end === 0) wrong.push('the scan was too fast to be watched');
if (end > bound) wrong.push('memory grows with the scan');
for (const what of wrong) console.log(`WRONG ${what}`);
if (wrong.length === 0) rmSync(night.folder, { recursive: true });
else console.log(`the folder is left in ${night.folder}`);
process.exitCode = wrong.length === 0 ? 0 : 1;
