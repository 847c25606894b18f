import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { align } from '../../../planner/frames/alignment.ts';
import { toChip } from '../../../planner/frames/chipFrame.ts';
import type { ChipFrame } from '../../../planner/frames/chipFrame.ts';
import { binned, expectedView, LEAST_LIKENESS, levelled, likeness, shiftOnStageUm, withoutRim } from '../../../planner/frames/placedPicture.ts';
import type { PlacedPicture } from '../../../planner/frames/placedPicture.ts';
import { cameraToStage } from '../../../planner/plan/objective.ts';
import { pixelToStage, type ChipPoint, type FramePose, type StagePoint } from '../../../planner/units/index.ts';
import { noiseGenerator } from './wavePicture.ts';

/** Protects: a chip that was laid down anew is told from others by its pictures. Truth: spots whose places on the chip are known. */

interface Spot {
  readonly xUm: number;
  readonly yUm: number;
  readonly radiusUm: number;
  readonly depth: number;
}

function spotsOf(seed: number, count = 60): readonly Spot[] {
  const next = noiseGenerator(seed);
  return Array.from({ length: count }, () => ({ xUm: 1000 * next(), yUm: 1000 * next(), radiusUm: 3 + 7 * next(), depth: 0.05 + 0.3 * next() }));
}

/** What a camera of this pose sees of spots on a chip: soft dark discs on even light, with noise. */
function photograph(spots: readonly Spot[], chip: ChipFrame, pose: FramePose, noiseSeed: number): PlacedPicture {
  const noise = noiseGenerator(noiseSeed);
  const data = new Float32Array(pose.widthPx * pose.heightPx);
  for (let row = 0; row < pose.heightPx; row += 1) {
    for (let col = 0; col < pose.widthPx; col += 1) {
      const place = toChip(chip, pixelToStage(pose, { colPx: col + 0.5, rowPx: row + 0.5 }));
      const dark = spots.reduce((sum, spot) => sum + spot.depth / (1 + Math.exp(Math.hypot(place.xUm - spot.xUm, place.yUm - spot.yUm) - spot.radiusUm)), 0);
      data[row * pose.widthPx + col] = 100 * (1 - dark) * (1 + 0.02 * (noise() - 0.5));
    }
  }
  return { picture: { widthPx: pose.widthPx, heightPx: pose.heightPx, data }, pose };
}

const at = (xUm: number, yUm: number): StagePoint & ChipPoint => ({ xUm, yUm });
const then: ChipFrame = { originUm: at(20_000, 20_000), angleDeg: 3 };
const middle = at(500, 500);
const onStage = (chip: ChipFrame): StagePoint => {
  const turn = (chip.angleDeg * Math.PI) / 180;
  return at(chip.originUm.xUm + middle.xUm * Math.cos(turn) - middle.yUm * Math.sin(turn), chip.originUm.yUm + middle.xUm * Math.sin(turn) + middle.yUm * Math.cos(turn));
};
const camera = (chip: ChipFrame, pixelUm: number, rotationDeg: number, mirrored: boolean): FramePose => ({ centreUm: onStage(chip), cameraToStageUm: cameraToStage(pixelUm, rotationDeg, mirrored), widthPx: 192, heightPx: 160 });
const number = (min: number, max: number) => fc.double({ min, max, noNaN: true });
const remounting = fc.record({ angleDeg: number(-180, 180), rotationDeg: number(-180, 180), mirrored: fc.boolean(), pixelUm: number(1.6, 2.4), dx: number(-40, 40), dy: number(-40, 40), seed: fc.nat(1000) });

describe('a chip laid down anew', () => {
  it('is found where it truly lies, whatever its turn and the other camera; another chip is not', () => {
    fc.assert(
      fc.property(remounting, ({ angleDeg, rotationDeg, mirrored, pixelUm, dx, dy, seed }) => {
        const believed: ChipFrame = { originUm: at(31_000, 14_000), angleDeg };
        const truly: ChipFrame = { ...believed, originUm: at(31_000 + dx, 14_000 + dy) };
        const before = photograph(spotsOf(seed), then, camera(then, 2, 0.4, true), seed);
        const stored = { picture: levelled(before.picture, 20), pose: before.pose };
        const pose = camera(believed, pixelUm, rotationDeg, mirrored);
        const view = expectedView(pose, believed, [stored], then);
        const reachPx = 60 / pixelUm;
        const seen = align(view.picture, levelled(photograph(spotsOf(seed), truly, pose, seed + 1).picture, 20), reachPx);
        expect(seen.likeness).toBeGreaterThan(LEAST_LIKENESS);
        const off = shiftOnStageUm(pose, seen);
        expect(Math.hypot(off.xUm - dx, off.yUm - dy)).toBeLessThan(1.5);
        const stranger = align(view.picture, levelled(photograph(spotsOf(seed + 7000), truly, pose, seed + 2).picture, 20), reachPx);
        // Five spots of each chip are in view, and one of them can be laid onto another one: `findChip` asks two places for that.
        expect(stranger.likeness).toBeLessThan(seen.likeness - 0.1);
      }),
      { numRuns: 6, endOnFailure: true },
    );
  });

  it('is not known by its straight edge alone: the rim is taken out', () => {
    const outline = [at(0, 0), at(1000, 0), at(1000, 620), at(0, 620)];
    const pose = camera(then, 2, 0, false);
    const flat = photograph([], then, pose, 5);
    const cut = withoutRim(flat, then, outline, 40);
    let [inside, outside] = [0, 0];
    for (let row = 0; row < pose.heightPx; row += 1) {
      for (let col = 0; col < pose.widthPx; col += 1) {
        const place = toChip(then, pixelToStage(pose, { colPx: col + 0.5, rowPx: row + 0.5 }));
        const value = cut.data[row * pose.widthPx + col] ?? NaN;
        if (place.yUm < 580) inside += value === 0 ? 1 : 0;
        else outside += value === 0 ? 0 : 1;
      }
    }
    expect([inside, outside]).toEqual([0, 0]);
  });
});

describe('levelled and binned pictures', () => {
  it('show even light with a slope as 0, and a spot as its share', () => {
    const picture = { widthPx: 80, heightPx: 60, data: Float32Array.from({ length: 4800 }, (_, i) => 100 + 0.2 * (i % 80)) };
    picture.data[30 * 80 + 40] = 0.5 * (picture.data[30 * 80 + 40] ?? NaN);
    const { data } = levelled(picture, 15);
    expect(data[30 * 80 + 40]).toBeCloseTo(-0.5, 2);
    for (let col = 16; col < 64; col += 1) if (Math.abs(col - 40) > 15) expect(Math.abs(data[20 * 80 + col] ?? NaN)).toBeLessThan(0.002);
  });

  it('keep every place where it was', () => {
    const placed = { picture: { widthPx: 21, heightPx: 14, data: new Float32Array(21 * 14).fill(7) }, pose: { ...camera(then, 2, 30, true), widthPx: 21, heightPx: 14 } };
    const coarse = binned(placed, 4);
    expect([coarse.picture.widthPx, coarse.picture.heightPx]).toEqual([5, 3]);
    expect(Math.max(...Array.from(coarse.picture.data, (value) => Math.abs(value - 7)))).toBeLessThan(1e-5);
    const [a, b] = [pixelToStage(placed.pose, { colPx: 8, rowPx: 4 }), pixelToStage(coarse.pose, { colPx: 2, rowPx: 1 })];
    expect(Math.hypot(a.xUm - b.xUm, a.yUm - b.yUm)).toBeLessThan(1e-9);
  });

  it('are fully alike to themselves', () => {
    const one = levelled(photograph(spotsOf(3), then, camera(then, 2, 0, false), 3).picture, 20);
    expect(likeness(one, one, { colPx: 0, rowPx: 0 })).toBeCloseTo(1, 6);
  });
});
