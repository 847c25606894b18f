// How fast whole and fresh frames come through the GenICam driver, and how soon again after the camera was killed: the figures of its bars.
// node tests/bench/camera.mjs [--frames 1000]
// Against Debian's fake camera on this computer, which makes, sends and receives each picture on the same cores as the driver.
import { readFileSync } from 'node:fs';
import { LOOPBACK, clock, openGenicamCamera, requireFakeCamera, sleep, startFake } from '../acceptance/cameraFake.mjs';

requireFakeCamera();
const at = process.argv.indexOf('--frames');
const FRAMES = at < 0 ? 1000 : Number(process.argv[at + 1]);
const SERIAL = `NB-${process.pid}`;
/** Bars: frames/s, and s until frames come again after the camera's return. */
const LEAST_FPS = 15;
const MOST_RETURN_S = 10;
/** The settings change every so many frames; every so many pictures are looked at pixel by pixel, all of them at a few places of each packet. */
const CHANGE_EVERY = 7;
const LOOK_CLOSE_EVERY = 50;
const PLACES = 16;

const settings = [{ exposureMs: 10, gainDb: 0 }, { exposureMs: 10, gainDb: 2 }, { exposureMs: 30, gainDb: 0 }];
const median = (values) => [...values].sort((a, b) => a - b)[Math.floor(values.length / 2)] ?? NaN;
const ms = (value) => `${value.toFixed(1)} ms`;

/** The ramp repeats after 255 px: summed over whole turns, a row tells the brightness, wherever it begins. */
function brightness({ data }) {
  let sum = 0;
  for (let index = 0; index < 255 * 8 * 3; index++) sum += data[index];
  return sum;
}

/** Each pixel of the ramp is that to the right of it in the row above. `every` px: how far apart places are looked at. */
function isWhole({ data, widthPx, heightPx }, every) {
  const row = widthPx * 3;
  for (let y = 1; y < heightPx; y++) {
    for (let x = y % every; x < widthPx - 1; x += every) {
      const here = y * row + x * 3;
      const there = here - row + 3;
      if (data[here] !== data[there] || data[here + 1] !== data[there + 1] || data[here + 2] !== data[there + 2]) return false;
    }
  }
  return true;
}

/** User and system time that a process has used so far, in ms, in clock ticks of 10 ms: proc(5). */
function usedMs(pid) {
  const fields = readFileSync(`/proc/${pid}/stat`, 'utf8').split(') ')[1]?.split(' ') ?? [];
  return (Number(fields[11]) + Number(fields[12])) * 10;
}

const ownMs = () => (process.cpuUsage().user + process.cpuUsage().system) / 1000;

/** What each setting looks like, from frames taken long after it was set. */
async function learn(camera) {
  const looks = [];
  for (const each of settings) {
    await camera.configure(each);
    for (let n = 0; n < 3; n++) await camera.snap();
    looks.push(brightness(await camera.snap()));
  }
  if (new Set(looks).size !== looks.length) throw new Error(`the settings cannot be told apart: ${looks}`);
  return looks;
}

/** One frame, judged. A picture of other settings, or with the number of an older one, is stale. */
async function takeOne(camera, look, tally) {
  const askedAtMs = clock.now();
  const idBefore = camera.counters.lastFrameId;
  let exposedAt = 0;
  const begin = performance.now();
  const frame = await camera.snap(undefined, () => (exposedAt = performance.now()));
  const end = performance.now();
  tally.took.push(end - begin);
  tally.firstPacket.push(exposedAt - begin);
  const id = camera.counters.lastFrameId;
  // 16 bits, and 0 is left out: GigE Vision (from memory).
  const expectedId = idBefore === 65535 ? 1 : idBefore + 1;
  if (brightness(frame) !== look || frame.takenAtMs < askedAtMs || (tally.took.length > 1 && id !== expectedId)) tally.stale++;
  if (!isWhole(frame, tally.took.length % LOOK_CLOSE_EVERY === 0 ? 1 : 2048 / PLACES)) tally.torn++;
  return end - begin;
}

async function manyFrames(camera, fake) {
  const looks = await learn(camera);
  const tally = { took: [], firstPacket: [], stale: 0, torn: 0 };
  const [ownBefore, fakeBefore] = [ownMs(), usedMs(fake.pid)];
  const before = camera.counters;
  let waitedMs = 0;
  let look = looks.at(-1);
  for (let n = 0; n < FRAMES; n++) {
    if (n % CHANGE_EVERY === 0) {
      const which = (n / CHANGE_EVERY) % settings.length;
      const begin = performance.now();
      await camera.configure(settings[which]);
      waitedMs += performance.now() - begin;
      look = looks[which];
    }
    waitedMs += await takeOne(camera, look, tally);
  }
  const retries = camera.counters.retries - before.retries;
  return { ...tally, retries, fps: (FRAMES * 1000) / waitedMs, ownMs: (ownMs() - ownBefore) / FRAMES, fakeMs: (usedMs(fake.pid) - fakeBefore) / FRAMES };
}

async function killAndReturn(camera, fake) {
  await fake.kill();
  const codes = [];
  const attempt = async () => {
    try {
      await camera.snap();
      return true;
    } catch (error) {
      codes.push(error.code);
      return false;
    }
  };
  await attempt();
  await sleep(500);
  await attempt();
  const again = await startFake(SERIAL);
  const begin = performance.now();
  while (!(await attempt()) && performance.now() - begin < 30_000) await sleep(200);
  return { again, seconds: (performance.now() - begin) / 1000, codes };
}

/** The driver's own share: its one copy of a picture, out of memory as large, into memory made ready, in this thread. */
async function copyMs() {
  const { copyPixels } = await import(new URL('../../.build/drivers/genicam/pixels.js', import.meta.url));
  const { formatOfCode } = await import(new URL('../../.build/drivers/genicam/formats.js', import.meta.url));
  const layout = { widthPx: 2048, heightPx: 2048, rowPaddingBytes: 0, format: formatOfCode(0x02180014) };
  const source = new Uint8Array(3 * 2048 ** 2).fill(1);
  const { FrameMemory } = await import(new URL('../../.build/drivers/genicam/frameMemory.js', import.meta.url));
  const memory = new FrameMemory();
  const took = Array.from({ length: 21 }, () => {
    memory.prepare(source.length);
    const begin = performance.now();
    copyPixels(source, layout, { colPx: 0, rowPx: 0, widthPx: 2048, heightPx: 2048 }, (bytes) => memory.take(bytes));
    return performance.now() - begin;
  });
  return median(took);
}

async function speedAt(packetSize) {
  const camera = await openGenicamCamera({ clock, camera: LOOPBACK, packetSize });
  await camera.configure(settings[0]);
  await camera.snap();
  const begin = performance.now();
  for (let n = 0; n < 40; n++) await camera.snap();
  const seconds = (performance.now() - begin) / 1000;
  const { packetSizeBytes } = camera.facts;
  await camera.close();
  return `${(40 / seconds).toFixed(1)} frames/s at ${packetSizeBytes} bytes a packet${packetSize === 'auto' ? ' (auto)' : ''}`;
}

const bars = [];
function bar(name, value, ok, wanted) {
  bars.push(ok);
  console.log(`${ok ? 'ok    ' : 'MISSED'}  ${name.padEnd(58)}${value.padStart(14)}   bar ${wanted}`);
}

const fake = await startFake(SERIAL);
const speeds = [];
for (const packetSize of [1400, 'auto']) speeds.push(await speedAt(packetSize));
const camera = await openGenicamCamera({ clock, camera: { serial: SERIAL }, globalShutter: true });
const run = await manyFrames(camera, fake);
bar('2048x2048 RGB8, software trigger per frame', `${run.fps.toFixed(1)} frames/s`, run.fps >= LEAST_FPS, `>= ${LEAST_FPS}`);
bar(`stale among ${FRAMES}`, String(run.stale), run.stale === 0, '0');
bar(`torn among ${FRAMES}`, String(run.torn), run.torn === 0, '0');
const { again, seconds, codes } = await killAndReturn(camera, fake);
bar('killed and started again: s until frames come', `${seconds.toFixed(1)} s`, seconds <= MOST_RETURN_S, `<= ${MOST_RETURN_S}`);
console.log(`        meanwhile: ${codes.join(' ')}; asked for anew because spoilt: ${run.retries}; memory in use ${(process.memoryUsage().rss / 1e6).toFixed(0)} MB`);
console.log(`        a frame takes ${ms(median(run.took))} (median): ${ms(median(run.firstPacket))} until its first packet, ${ms(median(run.took) - median(run.firstPacket))} to send, receive, copy and hand over`);
console.log(`        processor time per frame: ${ms(run.ownMs)} receiving, copying, judging; ${ms(run.fakeMs)} in the fake camera`);
console.log(`        the driver's one copy of a picture: ${ms(await copyMs())}`);
console.log(`        ${speeds.join('; ')}`);
await camera.close();
await again.kill();
process.exit(bars.every(Boolean) ? 0 : 1);
