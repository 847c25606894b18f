// Masks to measure: random shapes of every nasty kind, and the foreground of frames of a stored set.
import { built } from './frameSetScore.mjs';

const { randomStream } = await import(built('simulators/random.js'));
const { fillPolygon } = await import(built('planner/flakes/raster.js'));

const WIDTH = 240;
const HEIGHT = 180;

const empty = () => new Uint8Array(WIDTH * HEIGHT);

/** Salt: every sample by itself, so that components touch by corners, hold holes, and lie at the border. */
function salt(random, share) {
  return empty().map(() => (random.next() < share ? 1 : 0));
}

/** Clouds: sums of waves above a level; wide, with bays, holes and islands. */
function clouds(random) {
  const waves = Array.from({ length: 8 }, () => ({ x: random.between(-0.12, 0.12), y: random.between(-0.12, 0.12), phase: random.between(0, 6.3) }));
  return empty().map((_, i) => (waves.reduce((sum, w) => sum + Math.sin((i % WIDTH) * w.x + Math.floor(i / WIDTH) * w.y + w.phase), 0) > 0.8 ? 1 : 0));
}

/** A star-shaped smooth outline round a centre, as a flake or a patch of residue might have. */
function smoothOutline(random, xUm, yUm, radius) {
  const terms = Array.from({ length: 4 }, (_, k) => ({ size: random.between(0, 0.12), order: k + 2, phase: random.between(0, 6.3) }));
  return Array.from({ length: 240 }, (_, i) => {
    const angle = (i * Math.PI) / 120;
    const r = radius * (1 + terms.reduce((sum, t) => sum + t.size * Math.cos(t.order * angle + t.phase), 0));
    return { xUm: xUm + r * Math.cos(angle), yUm: yUm + r * Math.sin(angle) };
  });
}

const grid = { xMinUm: 0, yMinUm: 0, stepUm: 1, width: WIDTH, height: HEIGHT };

/** One smooth shape in the middle. */
function smooth(random) {
  const mask = empty();
  fillPolygon(grid, smoothOutline(random, WIDTH / 2 + random.next(), HEIGHT / 2 + random.next(), random.between(12, 50)), mask, 1);
  return mask;
}

/** Masks by name: `kind` says what may be asked of them. */
export function randomMasks(count) {
  const makers = { salt: (r) => salt(r, r.between(0.2, 0.7)), clouds, smooth };
  return Object.entries(makers).flatMap(([kind, make]) =>
    Array.from({ length: count }, (_, i) => ({ name: `${kind}-${i}`, kind, width: WIDTH, height: HEIGHT, mask: make(randomStream(i, kind, 'regions')) })),
  );
}

/** Random polygons of few corners, some crossing themselves, and what they fill: corners never on the centre of a sample. */
export function randomPolygons(count) {
  return Array.from({ length: count }, (_, i) => {
    const random = randomStream(i, 'polygon', 'regions');
    const corners = Array.from({ length: 3 + random.below(7) }, () => ({ xUm: random.between(-20, WIDTH + 20), yUm: random.between(-20, HEIGHT + 20) }));
    const mask = empty();
    fillPolygon(grid, corners, mask, 1);
    return { name: `polygon-${i}`, kind: 'polygon', width: WIDTH, height: HEIGHT, mask, corners };
  });
}

/** The same smooth shapes on a grid so much finer: its means over blocks are what a camera sees of a sharp edge. */
const FINER = 4;

export function softShapes(count) {
  const [width, height] = [WIDTH * FINER, HEIGHT * FINER];
  return Array.from({ length: count }, (_, i) => {
    const random = randomStream(i, 'soft', 'regions');
    const outline = smoothOutline(random, WIDTH / 2 + random.next(), HEIGHT / 2 + random.next(), random.between(8, 50));
    const mask = new Uint8Array(width * height);
    fillPolygon({ ...grid, stepUm: 1 / FINER, width, height }, outline, mask, 1);
    return { name: `soft-${i}`, kind: 'soft', width, height, mask, finer: FINER };
  });
}

/** Foreground masks of the first frames of a stored set: what the classifier labels. */
export async function frameMasks(folder, frames) {
  const [{ openFrameSet }, { samplesOf }, { linearTable }, { cellsOf }, { findSubstrate }, { contrastImage }, { noiseOf }, { foregroundMask }] = await Promise.all(
    ['drivers/frameset/index.js', 'daemon/vision/samples.js', 'daemon/vision/linearise.js', 'daemon/vision/cells.js', 'daemon/vision/substrate.js', 'daemon/vision/contrast.js',
      'daemon/vision/noise.js', 'daemon/vision/foreground.js'].map((file) => import(built(file))),
  );
  const set = await openFrameSet(folder);
  const masks = [];
  for (let i = 0; i < Math.min(frames, set.frames.length); i++) {
    const samples = samplesOf(await set.readFrame(i));
    const table = linearTable(set.transfer, samples.fullScale);
    const none = Array.from({ length: samples.channels }, () => 0);
    const cells = cellsOf(samples, table, none);
    const substrate = findSubstrate(cells, cells.mean);
    if (!substrate) continue;
    const image = contrastImage(samples, table, none, none, cells, substrate);
    masks.push({ name: `frame-${i}`, kind: 'frame', width: image.widthPx, height: image.heightPx, mask: foregroundMask(image, noiseOf(image, cells, substrate.bare)) });
  }
  return masks;
}
