// What becomes of a night when a device goes and comes back: real drivers against their far ends, in front of simulated devices, in real time.
// usage: node tests/bench/driverNights.mjs [--away SECONDS] [--only stage|camera] [--events]
// Ends with 1 when a night does not go on within 10 s of the device's return, or loses a tile. The camera needs Debian's aravis-tools.
import { spawn } from 'node:child_process';
import { once } from 'node:events';
import { loadBundle } from '../acceptance/bundle.mjs';

const argument = (name, otherwise) => (process.argv.includes(name) ? process.argv[process.argv.indexOf(name) + 1] : otherwise);
const awayMs = 1000 * Number(argument('--away', 6));
const only = argument('--only', '');
if (!(awayMs >= 0 && awayMs <= 300_000)) {
  console.error('usage: node tests/bench/driverNights.mjs [--away SECONDS] [--only stage|camera] [--events]');
  process.exit(2);
}
const BAR_S = 10;

function fakeCamera() {
  const child = spawn('arv-fake-gv-camera-0.8', ['-i', '127.0.0.1', '-s', 'NJ-NIGHT'], { stdio: 'ignore' });
  return { kill: () => void child.kill('SIGKILL') };
}

async function hasFakeCamera() {
  const child = spawn('arv-fake-gv-camera-0.8', ['--help'], { stdio: 'ignore' });
  return Promise.race([once(child, 'exit').then(() => true), once(child, 'error').then(() => false)]);
}

function report(name, night) {
  const isWhole = night.phase === 'finished' && night.tiles === night.planned && night.skipped === 0;
  const isMet = isWhole && night.goesOnAfterS <= BAR_S;
  console.log(`${name}: ${night.phase} (${night.cause}), ${night.tiles} of ${night.planned} tiles, ${night.skipped} skipped; goes on ${night.goesOnAfterS.toFixed(1)} s after its return (bar ${BAR_S} s: ${isMet ? 'met' : 'NOT MET'})`);
  if (process.argv.includes('--events') || !isMet) console.log(night.events.map((event) => `  ${event}`).join('\n'));
  return isMet;
}

const { nightWithoutStage, nightWithoutCamera } = await loadBundle('driverNights', new URL('./driverNightRun.ts', import.meta.url));
let isMet = true;
if (only !== 'camera') isMet = report('stage line unplugged, board restarted, back under another device name', await nightWithoutStage(awayMs)) && isMet;
if (only !== 'stage') {
  if (await hasFakeCamera()) isMet = report('camera killed and started anew', await nightWithoutCamera(awayMs, fakeCamera)) && isMet;
  else console.log('camera killed and started anew: left out, aravis-tools is not installed');
}
process.exitCode = isMet ? 0 : 1;
