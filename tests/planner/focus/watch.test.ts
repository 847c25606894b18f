import { describe, expect, it } from 'vitest';
import { strongestEdges, type Samples } from '../../../planner/focus/texture.ts';
import { NOTHING_WATCHED, proven, watchSharpness, withoutUnproven } from '../../../planner/focus/watch.ts';
import type { FramePose } from '../../../planner/units/index.ts';
import { noiseGenerator } from '../frames/wavePicture.ts';

/** Protects: a frame that is less sharp than what was seen of the same edges before is told, whatever the edges are, and nothing else is. */

const WIDTH = 320;
const HEIGHT = 240;
const pose = (xUm: number): FramePose => ({ centreUm: { xUm, yUm: 0 }, cameraToStageUm: [1, 0, 0, 1], widthPx: WIDTH, heightPx: HEIGHT });

/** Heights of edges along the stage's x, the same for everybody who looks there: strips 20 um wide about every 60 um. */
const edgesAt = (n: number): { readonly xUm: number; readonly rise: number } => ({ xUm: 60 * n + 17 * ((n * n) % 3), rise: 12 + 9 * (Math.abs(n) % 4) });

/** A frame at a place, with this blur, noise of its own, and light that may differ. */
function frame(xUm: number, sigmaPx: number, seed: number, light = 1, blank = false): Samples {
  const next = noiseGenerator(seed);
  const data = new Uint8Array(WIDTH * HEIGHT);
  const line = Float64Array.from({ length: WIDTH }, (_, x) => {
    if (blank) return 120;
    const at = xUm + x + 0.5 - WIDTH / 2;
    let level = 120;
    for (let n = Math.floor(at / 60) - 2; n <= Math.floor(at / 60) + 2; n++) {
      const { xUm: from, rise } = edgesAt(n);
      level -= rise * (1 / (1 + Math.exp((-1.7 * (at - from)) / sigmaPx)) - 1 / (1 + Math.exp((-1.7 * (at - from - 20)) / sigmaPx)));
    }
    return level;
  });
  // The edges fill the upper half; the lower is bare, as most of a real frame is.
  for (let y = 0; y < HEIGHT; y++) for (let x = 0; x < WIDTH; x++) data[y * WIDTH + x] = light * ((y < 70 ? (line[x] ?? 0) : 120) + 3 * next());
  return { data, widthPx: WIDTH, heightPx: HEIGHT, channels: 1 };
}

/** Frames beside one another, each overlapping the one before by a fifth, with these blurs. */
function scan(sigmas: readonly number[], first = NOTHING_WATCHED, from = 0): { verdicts: string[]; watch: typeof NOTHING_WATCHED } {
  let watch = first;
  const verdicts = sigmas.map((sigmaPx, i) => {
    const seen = watchSharpness(watch, frame(256 * (from + i), sigmaPx, i + 1), pose(256 * (from + i)));
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

  it('doubts a frame that is blurred four times as much as the one before it, or more', () => {
    for (const sigma of [6, 8, 10]) expect(scan([1.5, 1.5, sigma], focused, 1).verdicts).toEqual(['sharp', 'sharp', 'doubtful']);
  });

  it('adds up what is poor until it is certain', () => {
    let watch = focused;
    const verdicts = [200, 210, 220, 230, 240].map((xUm, i) => {
      const seen = watchSharpness(watch, frame(xUm, 2.4, i + 1), pose(xUm));
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
    expect(watchSharpness(focused, frame(256, 1.5, 5, 1, true), pose(256)).sharpness).toBe('silent');
    expect(watchSharpness(focused, frame(256, 1.5, 5, 0.6), pose(256)).sharpness).toBe('sharp');
  });

  it('remembers no more than some rows of frames', () => {
    expect(scan(Array(90).fill(1.5), focused, 1).watch.frames.length).toBeLessThanOrEqual(72);
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
