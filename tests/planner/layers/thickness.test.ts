import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { fitLadder } from '../../../planner/layers/ladder.ts';
import { readContrast } from '../../../planner/layers/posterior.ts';
import { thicknessOf } from '../../../planner/layers/thickness.ts';
import type { ThicknessPiece } from '../../../planner/layers/thickness.ts';
import type { ContrastSample, LadderContext } from '../../../planner/layers/types.ts';
import { halogen, idealColourBands, idealMonoBands, thicknessCurve } from '../../../planner/optics/index.ts';
import type { MaterialId } from '../../../planner/optics/index.ts';
import type { ThicknessCall } from '../../../planner/flakes/types.ts';

/** Pieces of a Gaussian, as close rungs give them. */
function hump(nm: number, sigma: number, weight: number, stepNm = 0.33): readonly ThicknessPiece[] {
  return Array.from({ length: 2 * Math.ceil((4 * sigma) / stepNm) + 1 }, (_, i): ThicknessPiece => {
    const at = nm + (i - Math.ceil((4 * sigma) / stepNm)) * stepNm;
    return { nm: at, halfNm: stepNm / 2, weight: (weight * stepNm * Math.exp(-((at - nm) ** 2) / (2 * sigma * sigma))) / (sigma * Math.sqrt(2 * Math.PI)) };
  });
}

describe('a thickness from pieces of probability', () => {
  const between = (min: number, max: number): fc.Arbitrary<number> => fc.double({ min, max, noNaN: true });

  it('of one hump is its mean and its 95 % interval', () => {
    fc.assert(fc.property(between(20, 250), between(0.5, 4), (nm, sigma) => {
      const { call, errorNm } = thicknessOf(hump(nm, sigma, 1), 300, 0.08);
      expect(Math.abs(call.nm - nm)).toBeLessThan(0.02 + 0.01 * sigma);
      expect(Math.abs(errorNm - sigma)).toBeLessThan(0.05 * sigma + 0.05);
      // 1.96 standard errors to either side hold 95 % of a Gaussian (handbook tables of the normal distribution).
      expect(Math.abs(call.lowNm - (nm - 1.96 * sigma))).toBeLessThan(0.2 + 0.05 * sigma);
      expect(Math.abs((call.highNm ?? 0) - (nm + 1.96 * sigma))).toBeLessThan(0.2 + 0.05 * sigma);
      expect([call.weight, call.alternatives]).toEqual([1, []]);
    }));
  });

  it('of two humps is the heavier, never what lies between; the other is named with its weight', () => {
    fc.assert(fc.property(between(20, 100), between(30, 100), between(0.1, 0.45), (nm, apart, share) => {
      const { call } = thicknessOf([...hump(nm, 1, 1 - share), ...hump(nm + apart, 2, share)], 300, 0.08);
      expect(Math.abs(call.nm - nm)).toBeLessThan(0.1);
      expect(Math.abs(call.weight - (1 - share))).toBeLessThan(0.01);
      const [other, ...rest] = call.alternatives;
      expect(rest).toEqual([]);
      expect(Math.abs((other?.nm ?? 0) - nm - apart)).toBeLessThan(0.2);
      expect(Math.abs((other?.weight ?? 0) - share)).toBeLessThan(0.01);
    }));
  });

  it('does not name what has less than 5 %', () => {
    expect(thicknessOf([...hump(20, 1, 0.97), ...hump(150, 2, 0.03)], 300, 0.08).call.alternatives).toEqual([]);
    expect(thicknessOf([...hump(20, 1, 0.94), ...hump(150, 2, 0.06)], 300, 0.08).call.alternatives).toHaveLength(1);
  });

  it('is open above where it reaches the end of the curve', () => {
    const level = Array.from({ length: 200 }, (_, i): ThicknessPiece => ({ nm: 100.5 + i, halfNm: 0.5, weight: 0.005 }));
    const { call } = thicknessOf(level, 300, 0.08);
    expect(call.highNm).toBeNull();
    expect(call.lowNm).toBeCloseTo(105, 0);
    expect(thicknessOf(hump(250, 3, 1), 300, 0.08).call.highNm).not.toBeNull();
  });
});

function seen(material: MaterialId, oxideNm: number, channels: 1 | 3, nms: readonly number[]): readonly ContrastSample[] {
  const bands = channels === 3 ? idealColourBands : idealMonoBands;
  const { contrast } = thicknessCurve({ material, oxideNm, numericalAperture: 0.3, lamp: halogen, bands, thicknessesNm: nms });
  return contrast.map((c, i) => ({ contrast: c.map((v, k) => v + 0.003 * Math.sin(9 * i + 4 * k)), contrastError: c.map(() => 0.004) }));
}

function read(material: MaterialId, oxideNm: number, channels: 1 | 3, nms: readonly number[]): readonly (ThicknessCall | undefined)[] {
  const context: LadderContext = { material, oxideNm, numericalAperture: 0.3, lamp: 'halogen', channels };
  const samples = seen(material, 1.01 * oxideNm, channels, nms);
  const ladder = fitLadder(context, samples);
  return samples.map((s) => readContrast(ladder, s).thickness);
}

const holds = (call: ThicknessCall | undefined, nm: number): boolean => call !== undefined && nm >= call.lowNm && nm <= (call.highNm ?? Infinity);
const near = (call: ThicknessCall | undefined, nm: number): boolean => holds(call, nm) || (call?.alternatives.some((a) => Math.abs(a.nm - nm) < 3 * a.errorNm) ?? false);

describe('hBN and graphite in nm', () => {
  const nms = [1, 2, 5, 10, 20, 35, 50, 80, 110, 150, 200, 260];

  it.each([['hbn', 90], ['hbn', 285], ['graphite', 285]] as const)('%s on %i nm: each thickness in the interval, or among the others where the colour repeats', (material, oxideNm) => {
    const calls = read(material, oxideNm, 3, nms);
    expect(nms.filter((nm, i) => !near(calls[i], nm))).toEqual([]);
    expect(nms.slice(0, 6).filter((nm, i) => !(Math.abs((calls[i]?.nm ?? 0) - nm) < 1))).toEqual([]);
  });

  it('a mono camera knows many readings of one grey, and the true one is among them', () => {
    for (const oxideNm of [90, 285]) {
      const calls = read('hbn', oxideNm, 1, nms);
      expect(nms.filter((nm, i) => !near(calls[i], nm))).toEqual([]);
      expect(calls.slice(5).filter((c) => (c?.alternatives.length ?? 0) > 0).length).toBeGreaterThanOrEqual(5);
      // What is sure of one reading alone is so by right: the colour camera is on nearly all.
      calls.forEach((c, i) => expect((c?.weight ?? 0) > 0.95 ? holds(c, nms[i] ?? 0) : true).toBe(true));
    }
  });

  it('graphite that no light passes is only known to be thick', () => {
    // exp(-4 pi k d / 550 nm) with k = 1.3 is below 0.001 for both ways through 130 nm: no oxide is seen any more.
    for (const call of read('graphite', 285, 3, [200, 250])) {
      expect(call?.lowNm).toBeGreaterThan(80);
      expect(call?.highNm === null || (call?.alternatives.some((a) => a.nm + 3 * a.errorNm > 290) ?? false)).toBe(true);
    }
  });
});
