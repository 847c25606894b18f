import { describe, expect, it } from 'vitest';
import { strongestEdges, type Samples } from '../../../planner/focus/texture.ts';
import { NOTHING_WATCHED, proven, texturedFrames, watchSharpness, withoutUnproven } from '../../../planner/focus/watch.ts';
import type { FramePose } from '../../../planner/units/index.ts';
import { noiseGenerator } from '../frames/wavePicture.ts';

/** Protects: a frame that is less sharp than what was seen of the same edges before is told, whatever the edges are, and nothing else is. */

const WIDTH = 640;
const HEIGHT = 240;
const pose = (xUm: number): FramePose => ({ centreUm: { xUm, yUm: 0 }, cameraToStageUm: [1, 0, 0, 1], widthPx: WIDTH, heightPx: HEIGHT });

/** Edges along the stage's x, the same for everybody who looks there: pieces 20 um wide, about every 110 um, others in each band of the chip. */
const BAND_PX = 20;
const edgesAt = (n: number, band: number): { readonly xUm: number; readonly rise: number } => ({ xUm: 110 * n + 31 * ((n * n + 2 * band) % 5), rise: 12 + 9 * ((Math.abs(n) + band) % 4) });

/** A frame at a place, with this blur, noise of its own, and light that may differ. */
function frame(xUm: number, sigmaPx: number, seed: number, light = 1, blank = false): Samples {
  const next = noiseGenerator(seed);
  const data = new Uint8Array(WIDTH * HEIGHT);
  const lineOf = (band: number): Float64Array =>
    Float64Array.from({ length: WIDTH }, (_, x) => {
      const at = xUm + x + 0.5 - WIDTH / 2;
      let level = 120;
      for (let n = Math.floor(at / 110) - 3; n <= Math.floor(at / 110) + 2; n++) {
        const { xUm: from, rise } = edgesAt(n, band);
        level -= rise * (1 / (1 + Math.exp((-1.7 * (at - from)) / sigmaPx)) - 1 / (1 + Math.exp((-1.7 * (at - from - 20)) / sigmaPx)));
      }
      return level;
    });
  // Every other band is bare, as most of a real frame is.
  const lines = Array.from({ length: HEIGHT / BAND_PX }, (_, band) => (blank || band % 2 === 1 ? new Float64Array(WIDTH).fill(120) : lineOf(band)));
  for (let y = 0; y < HEIGHT; y++) for (let x = 0; x < WIDTH; x++) data[y * WIDTH + x] = light * ((lines[Math.floor(y / BAND_PX)]?.[x] ?? 0) + 3 * next());
  return { data, widthPx: WIDTH, heightPx: HEIGHT, channels: 1 };
}

/** Frames beside one another, each overlapping the one before by a fifth, with these blurs. */
function scan(sigmas: readonly number[], first = NOTHING_WATCHED, from = 0): { verdicts: string[]; watch: typeof NOTHING_WATCHED } {
  let watch = first;
  const verdicts = sigmas.map((sigmaPx, i) => {
    const seen = watchSharpness(watch, frame(512 * (from + i), sigmaPx, i + 1), pose(512 * (from + i)));
    ({ watch } = seen);
    return seen.sharpness;
  });
  return { verdicts, watch };
}

const focused = watchSharpness(NOTHING_WATCHED, frame(0, 1.5, 99), pose(0), true).watch;

describe('watching sharpness', () => {
  it('finds frames sharp that are as sharp as one in which focus was measured, from one to the next', () => {
    expect(scan([1.5, 1.6, 1.4, 1.5, 1.7, 1.5], focused, 1).verdicts).toEqual(Array(6).fill('sharp'));
  });

  it('doubts a frame that is blurred six times as much as the one before it, at once', () => {
    for (const sigma of [9, 12]) expect(scan([1.5, 1.5, sigma], focused, 1).verdicts).toEqual(['sharp', 'sharp', 'doubtful']);
  });

  it('does not call one sharp that is blurred three times as much, and doubts it together with the next one that says so', () => {
    const seen = scan([1.5, 1.5, 4.5], focused, 1);
    expect(seen.verdicts).toEqual(['sharp', 'sharp', 'silent']);
    expect(seen.watch.doubt).toBeGreaterThan(0);
    // The neighbour in the next row, against a frame that is known to be in focus.
    expect(watchSharpness(seen.watch, frame(512 * 2 + 20, 4.5, 9), pose(512 * 2 + 20)).sharpness).toBe('doubtful');
  });

  it('takes back a doubt only where a frame known to be in focus says so', () => {
    const doubted = scan([1.5, 1.5, 4.5], focused, 1).watch;
    expect(watchSharpness(doubted, frame(512 * 4, 4.5, 9), pose(512 * 4)).watch.doubt).toBeGreaterThanOrEqual(doubted.doubt);
    expect(watchSharpness(doubted, frame(512 + 20, 1.5, 9), pose(512 + 20)).watch.doubt).toBeLessThan(doubted.doubt);
  });

  it('adds up what is poor until it is certain', () => {
    let watch = focused;
    const verdicts = [450, 460, 470, 480, 490].map((xUm, i) => {
      const seen = watchSharpness(watch, frame(xUm, 2.9, i + 1), pose(xUm));
      ({ watch } = seen);
      return seen.sharpness;
    });
    expect(verdicts[0]).toBe('silent');
    expect(verdicts).toContain('doubtful');
  });

  it('is silent where nobody has seen the same edges in focus: among blurred frames a blurred one looks as usual', () => {
    expect(scan([5, 5, 5]).verdicts).toEqual(['silent', 'silent', 'silent']);
    expect(proven(scan([5, 5, 5]).watch).frames.every(({ isProven }) => isProven)).toBe(true);
    expect(withoutUnproven(scan([5, 5, 5]).watch).frames).toEqual([]);
  });

  it('is silent on bare oxide, and does not follow the lamp', () => {
    expect(watchSharpness(focused, frame(512, 1.5, 5, 1, true), pose(512)).sharpness).toBe('silent');
    expect(watchSharpness(focused, frame(512, 1.5, 5, 0.6), pose(512)).sharpness).toBe('sharp');
  });

  it('remembers no more than some rows of frames', () => {
    expect(scan(Array(90).fill(1.5), focused, 1).watch.frames.length).toBeLessThanOrEqual(72);
  });
});

/** A bare frame but for one dark square of 40 px with its middle at (x, y). */
function squareAt(x: number, y: number, depth: number, seed: number): Samples {
  const bare = frame(0, 1.5, seed, 1, true);
  for (let row = y - 20; row < y + 20; row++) for (let col = x - 20; col < Math.min(WIDTH, x + 20); col++) bare.data[row * WIDTH + col] = (bare.data[row * WIDTH + col] ?? 0) - depth;
  return bare;
}

describe('an edge on the rim of what two frames share', () => {
  it('is no sign of blur, wherever it lies and from whichever side the stage came', () => {
    // The frames share 128 px; a square at the very end of the one is seen whole by the other.
    for (let x = 590; x <= 658; x += 4) {
      for (const [first, second] of [[0, 512], [512, 0]] as const) {
        const watch = watchSharpness(NOTHING_WATCHED, squareAt(x - first, 100, 60, 1), pose(first), true).watch;
        expect(watchSharpness(watch, squareAt(x - second, 100, 60, 2), pose(second)).watch.doubt, `at ${x}, ${first} first`).toBe(0);
      }
    }
  });
});

describe('frames to measure focus at again', () => {
  it('are those that show edges, the strongest among the nearest first, with where in them to look', () => {
    let watch = NOTHING_WATCHED;
    const shows = [squareAt(160, 96, 20, 1), frame(0, 1.5, 2, 1, true), squareAt(480, 160, 60, 3), frame(0, 1.5, 4, 1, true)];
    shows.forEach((one, i) => ({ watch } = watchSharpness(watch, one, pose(512 * i))));
    const found = texturedFrames(watch, { xUm: 1536, yUm: 0 }, 3);
    expect(found.map((one) => one.pose.centreUm.xUm)).toEqual([1024, 0]);
    expect(Math.abs((found[0]?.look.right ?? NaN) - 480 / WIDTH)).toBeLessThan(0.08);
    expect(Math.abs((found[0]?.look.down ?? NaN) - 160 / HEIGHT)).toBeLessThan(0.2);
    expect(texturedFrames(watch, { xUm: 1536, yUm: 0 }, 1)).toHaveLength(1);
    expect(texturedFrames(NOTHING_WATCHED, { xUm: 0, yUm: 0 }, 3)).toEqual([]);
  });
});

describe('the strongest edges', () => {
  it('lie where they were put, even far out of focus', () => {
    const data = new Uint8Array(640 * 480).fill(120);
    const next = noiseGenerator(4);
    for (let i = 0; i < data.length; i++) data[i] = 120 + 3 * next();
    for (let y = 200; y < 250; y++) for (let x = 440; x < 520; x++) data[y * 640 + x] = 120 - 60 / (1 + Math.exp(-(x - 480) / 9));
    const place = strongestEdges({ data, widthPx: 640, heightPx: 480, channels: 1 });
    expect(Math.abs((place?.right ?? NaN) - 480 / 640)).toBeLessThan(0.08);
    expect(Math.abs((place?.down ?? NaN) - 225 / 480)).toBeLessThan(0.08);
  });

  it('are nowhere on bare oxide, with a hot sample on it', () => {
    const next = noiseGenerator(8);
    const data = Uint8Array.from({ length: 640 * 480 }, () => 120 + 3 * next());
    data[100_000] = 255;
    expect(strongestEdges({ data, widthPx: 640, heightPx: 480, channels: 1 })).toBeUndefined();
  });
});
