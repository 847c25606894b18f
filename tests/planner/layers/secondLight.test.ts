import { describe, expect, it } from 'vitest';
import { fitLadder } from '../../../planner/layers/ladder.ts';
import { readContrast } from '../../../planner/layers/posterior.ts';
import { fillingLogs, fillingWeights, readThrough, readTogether, secondLight } from '../../../planner/layers/secondLight.ts';
import type { ContrastSample, LadderContext } from '../../../planner/layers/types.ts';

/** Protects: a flake seen through a second objective is read on the same ladder, whatever share of its aperture the light fills. */

const context: LadderContext = { material: 'graphene', oxideNm: 290, numericalAperture: 0.3, lamp: 'halogen', channels: 3 };
const ladder = fitLadder(context, []);
const light = secondLight(ladder, 0.8);

/** What a rung of the best hypothesis looks like, in the survey or under a filling. */
function rung(layers: number, filling?: number, error = 0.002): ContrastSample {
  const of = filling === undefined ? ladder : light.ladders[light.fillings.findIndex((each) => Math.abs(each - filling) < 1e-6)];
  const rungs = of?.hypotheses[0]?.rungs;
  const at = rungs ? rungs.layers.indexOf(layers) * 3 : -1;
  if (!rungs || at < 0) throw new Error(`no rung of ${layers} layers`);
  return { contrast: [...rungs.contrast.subarray(at, at + 3)], contrastError: [error, error, error] };
}

describe('a ladder through a second objective', () => {
  it('is at each node what the tables say for that cone, and in between within 0.002 of it', () => {
    for (const filling of [0.7, 0.8, 0.9, 1]) {
      // Worked out by the ladder's own optics for that aperture, without interpolation.
      const direct = fitLadder({ ...context, numericalAperture: 0.8 * filling }, []).hypotheses[0]?.rungs;
      const at = direct ? direct.layers.indexOf(4) * 3 : -1;
      rung(4, filling).contrast.forEach((c, i) => expect(Math.abs(c - (direct?.contrast[at + i] ?? NaN))).toBeLessThan(0.002));
    }
  });

  it('learns from a few flakes how much of the aperture is filled', () => {
    const witnesses = [1, 2, 4].map((layers) => fillingLogs(light, readContrast(ladder, rung(layers)), rung(layers, 0.85)));
    const weights = fillingWeights(light, witnesses);
    const mean = weights.reduce((sum, w, i) => sum + w * (light.fillings[i] ?? 0), 0);
    expect(weights.reduce((sum, w) => sum + w, 0)).toBeCloseTo(1, 9);
    expect(Math.abs(mean - 0.85)).toBeLessThan(0.05);
    expect(new Set(fillingWeights(light, []).map((w) => w.toFixed(9))).size).toBe(1);
  });

  it('gives the layers that a flake has, alone and with the first pass', () => {
    const weights = fillingWeights(light, []);
    for (const filling of [0.75, 0.9]) {
      for (const layers of [1, 2, 3]) {
        expect(readTogether(ladder, rung(layers), light, weights, rung(layers, filling)).layers).toBe(layers);
        expect(readThrough(light, fillingWeights(light, [fillingLogs(light, readContrast(ladder, rung(layers)), rung(layers, filling))]), rung(layers, filling)).layers).toBe(layers);
      }
    }
  });

  it('makes a noisy count surer, and a precise one no surer than the tables allow', () => {
    const witnesses = [1, 2, 3].map((layers) => fillingLogs(light, readContrast(ladder, rung(layers)), rung(layers, 0.9)));
    const weights = fillingWeights(light, witnesses);
    const noisy = rung(2, undefined, 0.03);
    expect(readTogether(ladder, noisy, light, weights, rung(2, 0.9)).probability).toBeGreaterThan(readContrast(ladder, noisy).probability + 0.01);
    // The very same contrast once more is what one contrast with smaller noise would say: the curve's own error stays.
    const once = rung(2, undefined, 0.004);
    const ideal = { ...once, contrastError: once.contrastError.map((e) => e / Math.SQRT2) };
    const one = secondLight(ladder, 0.3);
    const full = one.fillings.map((_, i) => (i === one.fillings.length - 1 ? 1 : 0));
    expect(readTogether(ladder, once, one, full, once).probability).toBeCloseTo(readContrast(ladder, ideal).probability, 6);
  });
});
