import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import type { Camera, CameraFrame } from '../../../drivers/interfaces/index.ts';
import { FrameCheck } from '../../../daemon/run/frameCheck.ts';
import { Repeats } from '../../../daemon/run/repeats.ts';
import { LampWatch } from '../../../daemon/run/lampWatch.ts';
import type { TileRecord } from '../../../daemon/records/types.ts';
import { randomStream } from '../../../simulators/random.ts';

/** Protects: a frame that may be another one is asked for again, with a bound; one that tells something never is. Laws of our own. */

/** A noisy frame about a level, 0 to 255. */
function frame(level: number, seed: number): CameraFrame {
  const random = randomStream(seed, 'frame', 'noise');
  const data = Uint8Array.from({ length: 3 * 128 * 104 }, () => Math.max(0, Math.min(255, Math.round(level + 2 * random.normal()))));
  return { widthPx: 128, heightPx: 104, pixelFormat: 'rgb8', bits: 8, data, exposureMs: 8, takenAtMs: seed };
}

const check = (requireNew: (frame: CameraFrame) => void = () => undefined) => new FrameCheck({ transfer: 'linear', requireNew, darkLevel: () => 4 / 255 });

const noCamera: Camera = {
  info: { model: 'none', widthPx: 128, heightPx: 104, pixelFormat: 'rgb8', bits: 8, exposureMinMs: 1, exposureMaxMs: 100 },
  configure: (settings) => Promise.resolve(settings),
  snap: () => Promise.reject(new Error('no frame')),
  close: () => Promise.resolve(),
};

describe('a frame', () => {
  it.each([
    ['without light', 4, 'blackFrame'],
    ['at full scale', 255, 'fullFrame'],
  ])('%s is asked for twice more, then taken for what is there', (_, level, code) => {
    const checker = check();
    for (const tile of [4, 5]) {
      for (const seed of [1, 2]) expect(() => checker.require(tile, frame(level, 10 * tile + seed))).toThrow(expect.objectContaining({ code }));
      expect(() => checker.require(tile, frame(level, 10 * tile + 3))).not.toThrow();
    }
  });

  it('that comes once more is never taken, whatever the one before was taken for', async () => {
    const same = frame(120, 1);
    const frames = [frame(120, 9), same, ...Array.from({ length: 4 }, (_, takenAtMs) => ({ ...same, takenAtMs })), frame(120, 2)];
    const repeats = new Repeats();
    const camera = repeats.watch({ ...noCamera, snap: async () => frames.shift() ?? same });
    const checker = check((each) => repeats.requireNew(each));
    // Of focus, say.
    await camera.snap();
    await camera.snap();
    for (let n = 0; n < 4; n++) {
      const again = await camera.snap();
      expect(() => checker.require(2, again)).toThrow(expect.objectContaining({ code: 'badFrame' }));
    }
    const fresh = await camera.snap();
    expect(() => checker.require(2, fresh)).not.toThrow();
  });

  it('is never taken when its upper or lower part is still that of the frame before, a twentieth or more', async () => {
    await fc.assert(
      fc.asyncProperty(fc.double({ min: 0.06, max: 0.94, noNaN: true }), fc.boolean(), fc.nat(), async (share, isUpper, seed) => {
        const [before, next] = [frame(120, seed), frame(120, seed + 1)];
        const seam = 3 * 128 * Math.round(share * 104);
        const data = Uint8Array.from(next.data, (value, i) => (i < seam === isUpper ? (before.data[i] ?? 0) : value));
        const frames = [before, { ...next, data }, frame(120, seed + 2)];
        const repeats = new Repeats();
        const camera = repeats.watch({ ...noCamera, snap: async () => frames.shift() ?? before });
        const [whole, torn, after] = [await camera.snap(), await camera.snap(), await camera.snap()];
        expect(() => repeats.requireNew(whole)).not.toThrow();
        expect(() => repeats.requireNew(torn)).toThrow(expect.objectContaining({ code: 'badFrame', details: expect.objectContaining({ what: 'part of it from the frame before' }) }));
        expect(() => repeats.requireNew(after)).not.toThrow();
      }),
      { numRuns: 30 },
    );
  });

  it('that is dark and even in the same part as the one before, beyond the edge of a chip, is new all the same', async () => {
    const halfDark = (seed: number): CameraFrame => ({ ...frame(120, seed), data: Uint8Array.from(frame(120, seed).data, (value, i) => (i < 20_000 ? 2 : value)) });
    const frames = [halfDark(1), halfDark(2)];
    const repeats = new Repeats();
    const camera = repeats.watch({ ...noCamera, snap: async () => frames.shift() ?? frame(0, 0) });
    await camera.snap();
    const second = await camera.snap();
    expect(() => repeats.requireNew(second)).not.toThrow();
  });

  it('without light is asked for again as that, also when it is all the same as before', async () => {
    const dark = { ...frame(0, 1), data: new Uint8Array(3 * 128 * 104) };
    const repeats = new Repeats();
    const camera = repeats.watch({ ...noCamera, snap: async () => ({ ...dark }) });
    const checker = check((each) => repeats.requireNew(each));
    for (let n = 0; n < 2; n++) {
      const each = await camera.snap();
      expect(() => checker.require(1, each)).toThrow(expect.objectContaining({ code: 'blackFrame' }));
    }
    const last = await camera.snap();
    expect(() => checker.require(1, last)).not.toThrow();
  });

  it('with light in it, however dim or bright, is taken at once', () => {
    const checker = check();
    fc.assert(
      fc.property(fc.integer({ min: 8, max: 250 }), fc.nat(), fc.nat(20), (level, seed, tile) => {
        expect(() => checker.require(tile, frame(level, seed))).not.toThrow();
      }),
      { numRuns: 50, seed: 5 },
    );
  });
});

describe('the lamp', () => {
  const tile = (level: number, fault?: TileRecord['fault']): TileRecord => ({
    tile: 0, chip: 'A', outcome: 'done', ...(fault ? { fault } : {}), centreUm: { xUm: 0, yUm: 0 }, zUm: 0, takenAtMs: 0, sharpness: 1, substrate: [0.5 * level, level, 0.7 * level], detections: [],
  });

  it('that fades is told once, and stops the night once', () => {
    const watch = new LampWatch();
    const words = Array.from({ length: 60 }, (_, n) => watch.after(tile(0.6 * (1 - n / 70)), 'oxide 290')?.kind).filter((kind) => kind !== undefined);
    expect(words).toEqual(['told', 'faded']);
  });

  it('is not blamed for another oxide, one odd tile, or a frame without a reading', () => {
    const watch = new LampWatch();
    const levels: readonly (readonly [number, string, TileRecord['fault']?])[] = [
      ...Array.from({ length: 8 }, () => [0.6, 'oxide 290'] as const),
      [0.2, 'oxide 290'],
      ...Array.from({ length: 8 }, () => [0.6, 'oxide 290'] as const),
      ...Array.from({ length: 12 }, () => [0.2, 'oxide 90'] as const),
      ...Array.from({ length: 12 }, () => [0.01, 'oxide 290', 'black'] as const),
    ];
    expect(levels.map(([level, oxide, fault]) => watch.after(tile(level, fault), oxide)).filter((word) => word !== undefined)).toEqual([]);
  });

  it('begins anew when a person has had the controls', () => {
    const watch = new LampWatch();
    for (let n = 0; n < 6; n++) watch.after(tile(0.6), 'oxide 290');
    watch.beginAnew();
    expect(Array.from({ length: 8 }, () => watch.after(tile(0.25), 'oxide 290')).filter((word) => word !== undefined)).toEqual([]);
  });
});
