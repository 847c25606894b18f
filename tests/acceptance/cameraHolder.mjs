// A second program on the fake camera: opens it, gives so many frames, holds it for so long, and ends. Started by camera.mjs, also as another user.
// node tests/acceptance/cameraHolder.mjs FRAMES HOLD_MS BINNING
import { LOOPBACK, clock, openGenicamCamera, sleep } from './cameraFake.mjs';

const [frames, holdMs, binning] = process.argv.slice(2).map(Number);
const camera = await openGenicamCamera({ clock, camera: LOOPBACK, packetSize: 9000, binning });
await camera.configure({ exposureMs: 10, gainDb: 0 });
let good = 0;
let last = '';
for (let n = 0; n < frames; n++) {
  try {
    good += (await camera.snap()).data.length > 0 ? 1 : 0;
  } catch (error) {
    last = String(error);
  }
}
console.log(JSON.stringify({ good, uid: process.getuid?.(), retries: camera.counters.retries, last }));
await sleep(holdMs);
await camera.close();
