// Components, outlines, areas, centroids, perimeters and inscribed circles of the built code against OpenCV, scikit-image and SciPy on
// the same masks. The conventions of each side are written down in regionsCheck.py.
// usage: node tests/acceptance/regions.mjs [FRAME_SET_DIR...] [--shapes N]
// The masks: N random shapes of each kind, and the foreground of the first two frames of each set. Debian's python3-opencv,
// python3-skimage and python3-pil are installed if they are missing. Ends with 1 when anything differs.
import { spawnSync } from 'node:child_process';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import sharp from 'sharp';
import { frameMasks, randomMasks, randomPolygons, softShapes } from './regionsMasks.mjs';
import { measureMask } from './regionsMeasure.mjs';

const FRAMES_OF_EACH = 2;
const python = process.env.NIGHTJAR_PYTHON ?? '/usr/bin/python3';
const run = (command, ...args) => spawnSync(command, args, { stdio: ['ignore', 'inherit', 'inherit'], env: { ...process.env, DEBIAN_FRONTEND: 'noninteractive' } }).status;

function installMissing() {
  if (spawnSync(python, ['-c', 'import cv2, skimage, scipy, PIL'], { stdio: 'ignore' }).status === 0) return;
  run('apt-get', 'install', '-y', '-qq', '--no-install-recommends', 'python3-opencv', 'python3-skimage', 'python3-pil');
}

async function store(folder, { name, width, height, mask }) {
  const grey = Uint8Array.from(mask, (v) => 255 * v);
  await sharp(grey, { raw: { width, height, channels: 1 } }).toColourspace('b-w').png({ compressionLevel: 1 }).toFile(join(folder, `${name}.png`));
}

const argument = process.argv.slice(2);
const at = argument.indexOf('--shapes');
const shapes = at < 0 ? 12 : Number(argument[at + 1]);
const sets = argument.filter((a, i) => !a.startsWith('--') && argument[i - 1] !== '--shapes');
if (!Number.isInteger(shapes) || shapes < 1) {
  console.error('usage: node tests/acceptance/regions.mjs [FRAME_SET_DIR...] [--shapes N]');
  process.exit(2);
}
installMissing();
const folder = mkdtempSync(join(tmpdir(), 'nightjar-regions-'));
try {
  const masks = [...randomMasks(shapes), ...randomPolygons(shapes), ...softShapes(shapes)];
  for (const [i, set] of sets.entries()) masks.push(...(await frameMasks(set, FRAMES_OF_EACH)).map((m) => ({ ...m, name: `set-${i}-${m.name}` })));
  for (const mask of masks) await store(folder, mask);
  writeFileSync(join(folder, 'measured.json'), JSON.stringify(masks.map(measureMask)));
  process.exitCode = run(python, fileURLToPath(new URL('regionsCheck.py', import.meta.url)), folder) === 0 ? 0 : 1;
} finally {
  rmSync(folder, { recursive: true });
}
