// Scans thousands of small frames in virtual time and watches the process: what it holds at the end must be within 10 % of what it held
// after the first tenth (the first of ten hours), with as many files open and threads as then, and no frame may be missing. Linux only (/proc).
// node tests/acceptance/soak.mjs [--tiles 20000] [--chips 24]
//
// The bound is on the resident set of the whole process, workers and simulated microscope included. The collector is kept on a short rein
// (below), so that the resident set shows what is held and not how late it is tidied up; what is left on the main heap after a full
// collection is printed beside it, with the bytes outside that heap, to tell one from the other.
import { readdirSync, readFileSync, rmSync } from 'node:fs';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { makeNight, options, readNight, startScan, tileCounter } from './night.mjs';

/** Places of the simulator's full tray; the chip on one of them shows too little for frames as coarse as these to be focused on, and is left out. */
const places = Array.from({ length: 24 }, (_, i) => i).filter((i) => i !== 10);
/** Tiles on one chip in a long night. */
const tilesPerChip = 870;
const { tiles: wanted, chips: askedChips } = options({ tiles: 2000, chips: 0 });
const chipCount = askedChips || Math.min(places.length, Math.max(2, Math.round(wanted / tilesPerChip)));

/** Memory at the end against that after the first tenth. */
const mostGrowth = 1.1;
/**
 * A short night is not over its beginning after a tenth: code is still being compiled, the pools of the workers fill, and the first chips
 * have shaped no ladder. So much may come on top there; a frame that is kept (62 kB) of each tile still shows.
 */
const shortNight = 10_000;
const slackBytes = wanted < shortNight ? 32e6 : 0;
/** Little room for what is no longer used. */
const collectOften = ['--max-semi-space-size=4', '--max-old-space-size=160'];
const probe = fileURLToPath(new URL('soakProbe.mjs', import.meta.url));
const samplePeriodMs = 200;
const rimUm = 100;
const pitchUm = 5000;

/** The simulator's tray and its chips that are scanned: several of a full tray, or one wide chip. */
function trayOf(count) {
  if (count === 1) return { tray: 'wide', chips: [{ name: 'W-01', centreUm: [25_000, 25_000], mostWidthUm: 19_000, mostHeightUm: 18_000, angleDeg: 1 }] };
  const chips = places.slice(0, count).map((i) => ({ name: `F-${String(i + 1).padStart(2, '0')}`, centreUm: [10_000 + pitchUm * (i % 6), 10_000 + pitchUm * Math.floor(i / 6)], mostWidthUm: 4300, mostHeightUm: 4300, angleDeg: 0 }));
  return { tray: 'full', chips };
}

/** Few pixels (a hundredth of a usual camera's) over a usual field, and many places to look for focus, since most of so coarse frames show nothing to focus on. */
const night = makeNight('soak', (instrument, runSheet) => {
  const { camera } = instrument;
  Object.assign(camera, { widthPx: 160, heightPx: 130, pixelPitchUm: 11.04 });
  const { tray, chips } = trayOf(chipCount);
  instrument.simulator.tray = tray;
  const [frameWidthUm, frameHeightUm] = [(camera.widthPx * camera.pixelPitchUm) / 10, (camera.heightPx * camera.pixelPitchUm) / 10];
  const mostUm2 = chips.reduce((sum, chip) => sum + (chip.mostWidthUm - 2 * rimUm) * (chip.mostHeightUm - 2 * rimUm), 0);
  // A tenth of overlap as usual, or more where the chips are too small for so many tiles.
  runSheet.overlap = Math.min(0.5, Math.max(0.1, 1 - Math.sqrt(mostUm2 / (1.02 * wanted * frameWidthUm * frameHeightUm))));
  const tileUm2 = frameWidthUm * frameHeightUm * (1 - runSheet.overlap) ** 2;
  const share = Math.min(1, Math.sqrt((wanted * tileUm2) / mostUm2));
  runSheet.focus.pointsPerChip = 40;
  runSheet.chips = chips.map(({ name, centreUm, mostWidthUm, mostHeightUm, angleDeg }) => {
    const side = (mostUm) => 2 * rimUm + share * (mostUm - 2 * rimUm);
    return { name, outline: { rectangle: { centreUm, widthUm: side(mostWidthUm), heightUm: side(mostHeightUm), angleDeg } }, edgeMarginUm: rimUm, material: 'graphene', oxideNm: 290 };
  });
});
const data = join(night.folder, 'data');
const probeFile = join(night.folder, 'probe.json');

/** What the system says of a process; undefined when it is gone. */
function look(pid) {
  try {
    const bytes = 1024 * Number(/^VmRSS:\s+(\d+) kB/m.exec(readFileSync(`/proc/${pid}/status`, 'utf8'))?.[1] ?? 0);
    return bytes > 0 ? { bytes, files: readdirSync(`/proc/${pid}/fd`).length, threads: readdirSync(`/proc/${pid}/task`).length } : undefined;
  } catch {
    return undefined;
  }
}

/** Looks at the process and its tiles until it ends; twice it is asked what is left after a full collection. */
async function watch({ child, ended }) {
  const samples = [];
  const heaps = [];
  const tilesNow = tileCounter(data);
  const askAt = [0.12, 0.98].map((share) => share * wanted);
  const timer = setInterval(() => {
    const seen = look(child.pid);
    if (!seen) return;
    const tiles = tilesNow();
    samples.push({ tiles, ...seen });
    if (tiles >= askAt[0]) {
      askAt.shift();
      child.kill('SIGUSR2');
      setTimeout(() => heaps.push(probed()), 2000).unref();
    }
  }, samplePeriodMs);
  const end = await ended;
  clearInterval(timer);
  if (end.code !== 0) throw new Error(`nightjar scan ended with ${end.code ?? end.signal}:\n${end.said}`);
  return { samples, heaps };
}

function probed() {
  try {
    return JSON.parse(readFileSync(probeFile, 'utf8'));
  } catch {
    return undefined;
  }
}

function median(values) {
  return [...values].sort((a, b) => a - b)[Math.floor(values.length / 2)] ?? 0;
}

/** What was seen while so many tiles were recorded. A file that is just being written is open for a moment only: the fewest count. */
function between(samples, from, to) {
  const some = samples.filter(({ tiles }) => tiles >= from && tiles <= to);
  return { bytes: median(some.map(({ bytes }) => bytes)), files: Math.min(...some.map(({ files }) => files)), threads: Math.min(...some.map(({ threads }) => threads)) };
}

const megabytes = (bytes) => `${(bytes / 1e6).toFixed(0)} MB`;
const begin = performance.now();
const { samples, heaps } = await watch(startScan(night, data, [], [...collectOften, '--expose-gc', '--import', probe], { NIGHTJAR_SOAK_PROBE: probeFile }));
const seconds = (performance.now() - begin) / 1000;
const { tiles, planned, state } = readNight(data);
const first = between(samples, 0.075 * tiles.length, 0.125 * tiles.length);
const last = between(samples, 0.95 * tiles.length, tiles.length);
const bound = mostGrowth * first.bytes + slackBytes;
console.log(`${tiles.length} tiles on ${chipCount} chips in ${seconds.toFixed(0)} s, ${(tiles.length / seconds).toFixed(1)} a second`);
console.log(`resident memory ${megabytes(first.bytes)} after the first tenth, ${megabytes(last.bytes)} at the end: ${(last.bytes / first.bytes).toFixed(2)} of it, ${((last.bytes - first.bytes) / 1024 / (0.875 * tiles.length)).toFixed(1)} kB a tile (${megabytes(bound)} allowed${slackBytes > 0 ? `: ${mostGrowth} of it and ${megabytes(slackBytes)} for a short night` : ''})`);
console.log(`open files ${first.files} and ${last.files}, threads ${first.threads} and ${last.threads}`);
for (const heap of heaps) if (heap) console.log(`after a full collection: ${megabytes(heap.heapUsed)} on the main heap, ${megabytes(heap.external)} outside it`);
const wrong = [];
if (state !== 'finished') wrong.push(`the night is ${state}, not finished`);
if (tiles.length < 0.98 * wanted) wrong.push(`only ${tiles.length} tiles, ${wanted} are wanted`);
const skipped = tiles.filter(({ outcome }) => outcome !== 'done').length;
if (skipped > 0) wrong.push(`${skipped} tiles were skipped: ${[...new Set(tiles.map(({ reason }) => reason).filter((reason) => reason !== null))].join(', ')}`);
if (tiles.length !== planned.length) wrong.push(`${planned.length} tiles were planned, ${tiles.length} recorded`);
if (first.bytes === 0 || last.bytes === 0) wrong.push('the scan was too fast to be watched');
if (last.bytes > bound) wrong.push('memory grows with the scan');
if (last.files > first.files) wrong.push('files are left open');
// The pool that reads and writes files starts its four threads one by one, as they are wanted: in a short night also after its first tenth.
if (last.threads > first.threads + (slackBytes > 0 ? 4 : 0)) wrong.push('threads are left behind');
for (const what of wrong) console.log(`WRONG ${what}`);
if (wrong.length === 0) rmSync(night.folder, { recursive: true });
else console.log(`the folder is left in ${night.folder}`);
process.exitCode = wrong.length === 0 ? 0 : 1;
