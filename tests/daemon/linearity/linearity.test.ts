import { describe, expect, it } from 'vitest';
import { checkLinearity } from '../../../daemon/linearity/check.ts';
import type { LinearityResult } from '../../../daemon/linearity/types.ts';
import { linearityText, unknownSentence } from '../../../daemon/linearity/words.ts';
import { invent, type InventedCamera } from './inventedCamera.ts';

/**
 * Protects: a camera whose numbers do not follow the light is found out, whatever bends them; noise and an unsteady lamp make no alarm; what
 * cannot be judged is said with what to do. Truth is each invented camera's own response: gamma g gives 2^g for twice the light.
 */

const path = { exposureMs: 8, gainDb: 0, lampIntensity: 0.5, transfer: 'linear' } as const;

async function check(made: InventedCamera, settings: Partial<Parameters<typeof checkLinearity>[2]> = {}): Promise<LinearityResult> {
  const { camera, lamp, clock } = invent(made);
  return checkLinearity(camera, lamp, { ...path, ...settings }, clock);
}

function ratios(result: LinearityResult): readonly number[] {
  return result.verdict === 'unknown' ? [] : result.measured.channels.map(({ ratio }) => ratio);
}

/** IEC 61966-2-1, the inverse of its decoding. */
const srgb = (light: number): number => (light <= 0.0031308 ? 12.92 * light : 1.055 * Math.max(0, light) ** (1 / 2.4) - 0.055);

describe('a camera that is linear', () => {
  it.each<readonly [string, InventedCamera]>([
    ['8 bits', {}],
    ['12 bits', { bits: 12 }],
    ['in colour', { format: 'rgb8' }],
    ['a lamp that gains 0.2 % per frame', { driftPerFrame: 0.002 }],
    ['dark current: an offset that grows with exposure, without light too', { response: (light, exposureMs) => light + 0.004 * exposureMs }],
  ])('is found to be: %s', async (_, made) => {
    const result = await check(made);
    expect(result.verdict).toBe('linear');
    for (const ratio of ratios(result)) expect(Math.abs(ratio / 2 - 1)).toBeLessThan(0.003);
    expect(linearityText(result)).toMatch(/wanted: 2\.000 within 1 %.*\n {2}(red|grey) +[12]\.\d{4} ± 0\.\d{4} [^]*can be trusted\.$/);
  });

  it('goes up to near full scale, whatever the optical path begins with', async () => {
    for (const exposureMs of [0.1, 8, 400]) {
      const result = await check({}, { exposureMs });
      expect(result.verdict === 'linear' && result.measured.channels[0]?.level).toBeGreaterThan(0.65);
    }
  });

  it('may store sRGB, if it is said to', async () => {
    const response = (light: number): number => srgb(light + 0.004);
    expect((await check({ response }, { transfer: 'srgb' })).verdict).toBe('linear');
    expect((await check({ response })).verdict).toBe('notLinear');
    expect((await check({}, { transfer: 'srgb' })).verdict).toBe('notLinear');
  });
});

describe('a camera that is not linear is found out', () => {
  it('gamma 0.9: the ratio is 2 to the power of 0.9', async () => {
    const result = await check({ response: (light) => Math.max(0, light) ** 0.9 });
    expect(result.verdict).toBe('notLinear');
    expect(ratios(result)[0]).toBeCloseTo(2 ** 0.9, 1);
    expect(linearityText(result)).toMatch(/off by −[56789]\.\d+ %.*\n.*not to be trusted\. Look for a gamma/);
  });

  it.each<readonly [string, InventedCamera['response']]>([
    ['a black level that follows the light with the exposure squared', (light, exposureMs, isLit) => light + 0.01 + (isLit ? 0.0002 * exposureMs ** 2 : 0)],
    ['a knee: half the slope above 70 % of full scale', (light) => 0.01 + (light > 0.7 ? 0.7 + (light - 0.7) / 2 : light)],
    ['dark numbers cut off at zero', (light) => light - 0.02],
  ])('%s', async (_, response) => {
    expect((await check({ ...(response ? { response } : {}), format: 'rgb8' })).verdict).toBe('notLinear');
  });
});

describe('noise does not decide', () => {
  it('of 200 linear cameras in little light before a flickering lamp, none is accused', async () => {
    const found = { linear: 0, notLinear: 0, unknown: 0 };
    for (let seed = 1; seed <= 200; seed++) {
      // 13 to 50 % of full scale at 500 ms, 2000 to 16 000 electrons in a full pixel, a lamp that varies by 0 to 0.9 %.
      const made = { seed, fillsAtMs: 500 * (1 + (seed % 4)), electrons: 2000 * 2 ** (seed % 4), flicker: (Math.floor(seed / 4) % 4) * 0.003 };
      found[(await check({ ...made, bits: seed % 2 === 0 ? 8 : 12 })).verdict]++;
    }
    expect(found.notLinear).toBe(0);
    // The others were too uncertain to be judged.
    expect(found.linear).toBeGreaterThan(100);
  }, 60_000);

  it.each([[0, 'linear'], [0.009, 'linear'], [0.011, 'unknown'], [0.013, 'notLinear'], [-0.009, 'linear'], [-0.013, 'notLinear']] as const)('a departure of %f is called %s in good light, ten times of ten', async (departure, verdict) => {
    const gamma = 1 + Math.log2(1 - departure);
    for (let seed = 1; seed <= 10; seed++) {
      const result = await check({ seed, bits: 12, response: (light) => (light <= 0 ? light : light ** gamma) + 0.01 });
      // Between the bar and what is surely beyond it, either may be unsure; neither may be wrong.
      if (verdict === 'unknown') expect(result.verdict).not.toBe('linear');
      else expect(result.verdict).toBe(verdict);
    }
  });
});

describe('what cannot be judged is said, with what to do', () => {
  it.each<readonly [string, InventedCamera, RegExp]>([
    ['a lamp that is switched by hand', { isByHand: true }, /the lamp is switched by hand/],
    ['one exposure', { exposures: [10, 10] }, /no two exposures of which one is twice the other \(only 10 ms\)/],
    ['a narrow range', { exposures: [10, 15] }, /\(10 to 15 ms\)/],
    ['too little light', { fillsAtMs: 20_000 }, /at 500 ms, the longest exposure that is tried, the picture reaches 1\.\d %.* 10 % is the least\. Use about \d\d times the light \(`lampIntensity`/],
    ['too much light', { fillsAtMs: 0.01 }, /even at 0\.02 ms and twice that the picture is too bright\. Use less light/],
    ['a lamp that flickers', { flicker: 0.03 }, /the light varies from frame to frame \(the ratio of two exposures is uncertain by [0-3]\.\d+ %\)/],
  ])('%s', async (_, made, said) => {
    const result = await check(made);
    if (result.verdict !== 'unknown') throw new Error(result.verdict);
    expect(unknownSentence(result.why)).toMatch(said);
    expect(linearityText(result)).toMatch(said);
  });
});

describe('lamp and camera', () => {
  it.each([0, 0.3, 0.5])('are left as they were found: lamp at %d', async (lampWas) => {
    const { camera, lamp, clock, now } = invent({ lampWas });
    await checkLinearity(camera, lamp, path, clock);
    expect(now).toMatchObject({ intensity: lampWas, settings: { exposureMs: 8, gainDb: 0 } });
    expect(now.frames).toBeLessThanOrEqual(36);
  });

  it('also when it ends by an error or is stopped, and the error is told', async () => {
    const { camera, lamp, clock, now } = invent({ lampWas: 0.3 });
    let left = 9;
    const failing = { ...camera, snap: async () => (left-- > 0 ? camera.snap() : Promise.reject(new Error('unplugged'))) };
    await expect(checkLinearity(failing, lamp, path, clock)).rejects.toThrow('unplugged');
    expect(now).toMatchObject({ intensity: 0.3, settings: { exposureMs: 8 } });
  });
});
