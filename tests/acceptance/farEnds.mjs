// Starts far ends for the real drivers and writes an instrument file for them: the daemon can then be tried on "real" lines without an instrument.
// usage: node tests/acceptance/farEnds.mjs FOLDER
// Puts instrument.yaml and tonight.yaml into FOLDER and stays until Ctrl-C. The camera needs Debian's aravis-tools; without it the file has a simulated one.
import { spawn } from 'node:child_process';
import { once } from 'node:events';
import { mkdirSync, writeFileSync } from 'node:fs';
import { join, relative } from 'node:path';
import { fileURLToPath } from 'node:url';
import { loadBundle } from './bundle.mjs';

const [folder] = process.argv.slice(2);
if (!folder) {
  console.error('usage: node tests/acceptance/farEnds.mjs FOLDER');
  process.exit(2);
}

const instrument = ({ port, tcpPort, deviceFile, hasCamera }) => `instrument: Far ends
limits: { xMinUm: 0, xMaxUm: 75000, yMinUm: 0, yMaxUm: 50000, zMinUm: 900, zMaxUm: 8000, safeHeightUm: 3000, maxLampIntensity: 0.9 }
lines:
  motion: { serial: { port: ${port}, baudRate: 115200 } }
  box: { tcp: { host: 127.0.0.1, port: ${tcpPort} }, deviceFile: ${deviceFile} }
stage: { driver: gcode, line: motion, gcode: { x: { stepsPerMm: 4000, zeroAtUm: 76000 }, y: { stepsPerMm: 4000, zeroAtUm: 51000 } }, backlashUm: 15 }
focus: { driver: gcode, line: motion, gcode: { z: { stepsPerMm: 10000, zeroAtUm: 9000 } }, expectedUm: 1000 }
${
  hasCamera
    ? 'camera: { driver: genicam, genicam: { address: 127.0.0.1, pixelFormat: RGB8 }, widthPx: 2048, heightPx: 2048, pixelPitchUm: 3.45 }'
    : 'camera: { driver: simulated, widthPx: 1024, heightPx: 816, pixelPitchUm: 6.9 }'
}
turret: { driver: described, line: box }
lamp: { driver: described, line: box }
objectives: { 10x: { magnification: 10, numericalAperture: 0.3, turretPosition: 0 } }
cameraToStage: { mirrored: true }
opticalPaths: { survey: { objective: 10x, lampIntensity: 0.6, exposureMs: 18 } }
simulator: { seed: 7 }
`;

const runSheet = `title: On far ends
operator: { initials: n.n., contact: nobody }
chips:
  - { name: K-07, outline: { rectangle: { centreUm: [12000, 9000], widthUm: 3000, heightUm: 3000 } }, material: graphene, oxideNm: 290 }
opticalPath: survey
`;

const camera = spawn('arv-fake-gv-camera-0.8', ['-i', '127.0.0.1', '-s', 'NJ-FAR'], { stdio: 'ignore' });
const hasCamera = await Promise.race([once(camera, 'spawn').then(() => true), once(camera, 'error').then(() => false)]);
const { startFarEnds } = await loadBundle('farEnds', new URL('../support/farEnds.ts', import.meta.url));
const ends = await startFarEnds();
mkdirSync(folder, { recursive: true });
const deviceFile = relative(folder, fileURLToPath(new URL('../../daemon/demo/devices/marrowbeck-lt4.yaml', import.meta.url)));
writeFileSync(join(folder, 'instrument.yaml'), instrument({ ...ends, deviceFile, hasCamera }));
writeFileSync(join(folder, 'tonight.yaml'), runSheet);
console.log(`${join(folder, 'instrument.yaml')} is for:\n  a motion controller at ${ends.port}\n  a box with turret and lamp at 127.0.0.1:${ends.tcpPort}\n  ${hasCamera ? 'a fake GigE Vision camera, serial number NJ-FAR' : 'a simulated camera: aravis-tools is not installed'}\nCtrl-C ends them.`);
const stop = async () => {
  camera.kill();
  await ends.close();
  process.exit(0);
};
process.on('SIGINT', stop);
process.on('SIGTERM', stop);
