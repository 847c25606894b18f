import { describe, expect, it } from 'vitest';
import { containsPoint, distanceToEdgeUm } from '../../planner/geometry/polygon.ts';
import { pixelToStage } from '../../planner/units/index.ts';
import { DARK_LEVEL } from '../../simulators/camera/cameraModel.ts';
import { createScene, type Scene } from '../../simulators/camera/scene.ts';
import { createWorkerRenderer } from '../../simulators/camera/renderer.ts';
import { complex, dividedBy, expI, minus, plus, squaredSize, times, type Complex } from '../../simulators/optics/complexNumber.ts';
import { CLEAN, makeTray } from '../../simulators/index.ts';
import type { TrueFlake } from '../../simulators/world/types.ts';
import { gradientEnergy, meanWhere, picture, sameSamples, sceneOptions } from './pictures.ts';
import { trayNamed } from './smallMicroscope.ts';

/**
 * Reflectance of a film (thickness d1) on oxide (d2) on silicon at normal incidence, as one closed expression: Airy's sum taken twice.
 * n - i k with exp(+i w t) here, unlike in the simulator.
 */
function closedForm(film: Complex, d1Nm: number, oxide: Complex, d2Nm: number, silicon: Complex, wavelengthNm: number): number {
  const r = (a: Complex, b: Complex) => dividedBy(minus(a, b), plus(a, b));
  const turn = (n: Complex, dNm: number) => expI(times(n, complex((-4 * Math.PI * dNm) / wavelengthNm)));
  const one = complex(1);
  const under = r(oxide, silicon);
  const step = times(under, turn(oxide, d2Nm));
  const onFilm = dividedBy(plus(r(film, oxide), step), plus(one, times(r(film, oxide), step)));
  const top = times(onFilm, turn(film, d1Nm));
  return squaredSize(dividedBy(plus(r(one, film), top), plus(one, times(r(one, film), top))));
}

/** Contrast of a flake's base in a channel of a picture centred on it: well inside against a ring well outside. */
function contrastOf(scene: Scene, flake: TrueFlake, channel: number): number {
  const outline = flake.terraces[0]?.outlineUm ?? [];
  const at = outline.reduce((sum, p) => ({ xUm: sum.xUm + p.xUm / outline.length, yUm: sum.yUm + p.yUm / outline.length }), { xUm: 0, yUm: 0 });
  const { widthPx, heightPx } = scene.options.camera;
  const pose = { centreUm: at, cameraToStageUm: [0.69, 0, 0, -0.69] as const, widthPx, heightPx };
  const frame = picture(scene, { atUm: at });
  const place = (colPx: number, rowPx: number) => pixelToStage(pose, { colPx, rowPx });
  const clearOf = (column: number, row: number) => {
    const p = place(column, row);
    return scene.world.chips[0]?.flakes.every(({ terraces: [base] }) => !base || (!containsPoint(base.outlineUm, p) && distanceToEdgeUm(base.outlineUm, p) > 4)) ?? false;
  };
  const dark = DARK_LEVEL * 4095;
  const inside = meanWhere(frame, channel, (column, row) => containsPoint(outline, place(column, row)) && distanceToEdgeUm(outline, place(column, row)) > 4);
  const outside = meanWhere(frame, channel, (column, row) => distanceToEdgeUm(outline, place(column, row)) < 15 && clearOf(column, row));
  return 1 - (inside - dark) / (outside - dark);
}

const isPlainMonolayer = ({ terraces }: TrueFlake) => terraces.length === 1 && terraces[0]?.layers === 1;

describe('rendered frames', () => {
  it('show a monolayer with about the contrast of a closed thin-film formula', () => {
    const scene = createScene(sceneOptions());
    const [chip] = scene.world.chips;
    const flakes = chip?.flakes.filter(isPlainMonolayer).slice(0, 3) ?? [];
    expect(flakes).toHaveLength(3);
    const oxideNm = chip?.oxideNm ?? Number.NaN;
    // Graphite's index 2.6 - 1.3i, 0.34 nm, green light (Blake et al. 2007, from memory); silicon 4.15 - 0.044i and silica 1.46 at 540 nm.
    const R = (dNm: number) => closedForm(complex(2.6, -1.3), dNm, complex(1.464), oxideNm, complex(4.1, -0.035), 540);
    const expected = 1 - R(0.34) / R(0);
    for (const flake of flakes) {
      // Published indices of graphene differ by 30 %; bands are wide and light comes from a cone.
      expect(contrastOf(scene, flake, 1) / expected).toBeGreaterThan(0.7);
      expect(contrastOf(scene, flake, 1) / expected).toBeLessThan(1.3);
    }
  });

  it('show it exactly as the simulator\'s own optics say, stray light included', () => {
    const scene = createScene(sceneOptions());
    const [chip] = scene.world.chips;
    const flake = chip?.flakes.find(isPlainMonolayer);
    if (!chip || !flake) throw new Error('no monolayer');
    for (const channel of [0, 1, 2] as const) {
      const bare = scene.colourOf(chip, 0)[channel];
      const film = scene.colourOf(chip, 0, { material: 'graphene', thicknessNm: 0.335 })[channel];
      expect(Math.abs(contrastOf(scene, flake, channel) - (1 - film / bare))).toBeLessThan(0.006);
    }
  });

  it('are the same bytes for the same options and request, and others for another seed or frame', () => {
    const frame = picture(createScene(sceneOptions()));
    expect(sameSamples(picture(createScene(sceneOptions())), frame)).toBe(true);
    expect(sameSamples(picture(createScene(sceneOptions({ seed: 6 }))), frame)).toBe(false);
    expect(sameSamples(picture(createScene(sceneOptions()), { noiseKey: 'another' }), frame)).toBe(false);
  });

  it('are the same bytes from a worker thread', async () => {
    const options = sceneOptions();
    const scene = createScene(options);
    const renderer = createWorkerRenderer(options);
    const region = { colPx: 0, rowPx: 0, widthPx: 320, heightPx: 240 };
    const request = { atUm: { xUm: 5000, yUm: 5000 }, zUm: 1000, objective: 0, exposureMs: 10, lampIntensity: 0.5, gainDb: 0, region, noiseKey: 'test' };
    const [first, second] = await Promise.all([renderer.render(request), renderer.render({ ...request, noiseKey: 'other' })]);
    expect(sameSamples(first, picture(scene))).toBe(true);
    expect(sameSamples(second, picture(scene, { noiseKey: 'other' }))).toBe(true);
    await expect(renderer.render({ ...request, objective: 9 })).rejects.toThrow('no objective');
    await renderer.close();
    await expect(renderer.render(request)).rejects.toMatchObject({ code: 'closed' });
  });

  it('lose gradient energy with every um of defocus, on either side', () => {
    const scene = createScene(sceneOptions());
    const energies = [0, 4, 8, 16, 32].map((defocusUm) => gradientEnergy(picture(scene, { zUm: 1000 + defocusUm, exposureMs: 20 })));
    for (let i = 1; i < energies.length; i++) expect(energies[i]).toBeLessThan(energies[i - 1] ?? 0);
    const below = gradientEnergy(picture(scene, { zUm: 992, exposureMs: 20 }));
    expect(Math.abs(below / (energies[2] ?? 0) - 1)).toBeLessThan(0.1);
  });

  it('grow with exposure, lamp and gain in proportion', () => {
    const scene = createScene(sceneOptions());
    const level = (change: Parameters<typeof picture>[1]) => meanWhere(picture(scene, change), 1) - DARK_LEVEL * 4095;
    const once = level({});
    expect(level({ exposureMs: 20 }) / once).toBeCloseTo(2, 2);
    expect(level({ lampIntensity: 0.25 }) / once).toBeCloseTo(0.5, 2);
    expect(level({ gainDb: 20 * Math.log10(1.5) }) / once).toBeCloseTo(1.5, 2);
  });

  it('hold bare substrate at 25 to 65 % of full scale at the demo\'s exposure', () => {
    for (const seed of [1, 2, 3]) {
      const scene = createScene(sceneOptions({ seed, tray: trayNamed('demo') }));
      const levels = [0, 1, 2].map((channel) => meanWhere(picture(scene, { atUm: { xUm: 24_000, yUm: 21_000 }, exposureMs: 10, lampIntensity: 0.55 }), channel) / 4095);
      expect(Math.min(...levels)).toBeGreaterThan(0.2);
      expect(Math.max(...levels)).toBeLessThan(0.7);
    }
  });

  it('are full where there is too much light, and at the dark level where there is none', () => {
    const scene = createScene(sceneOptions({ camera: { widthPx: 64, heightPx: 64, bits: 8, transfer: 'linear' } }));
    expect(picture(scene, { lampIntensity: 1e6 }).data.every((value) => value === 255)).toBe(true);
    expect(meanWhere(picture(scene, { lampIntensity: 0 }), 0)).toBeLessThan(3);
  });

  it('are encoded by the sRGB curve where the camera is so', () => {
    const camera = { widthPx: 64, heightPx: 64, bits: 12, transfer: 'linear' } as const;
    const linear = picture(createScene(sceneOptions({ camera })));
    const encoded = picture(createScene(sceneOptions({ camera: { ...camera, transfer: 'srgb' } })));
    // IEC 61966-2-1.
    const expected = Array.from(linear.data, (value) => 4095 * (1.055 * (value / 4095) ** (1 / 2.4) - 0.055));
    const worst = Math.max(...expected.map((value, i) => Math.abs(value - (encoded.data[i] ?? 0))));
    expect(worst).toBeLessThan(3);
  });

  it('are noisier than read noise alone by the shot noise of their electrons', () => {
    const scene = createScene(sceneOptions({ tray: makeTray('bare', [{ name: 'B', centreUm: { xUm: 5000, yUm: 5000 }, flakesPerMm2: 0, dirt: CLEAN }]) }));
    const a = picture(scene);
    const b = picture(scene, { noiseKey: 'b' });
    const mean = meanWhere(a, 1) / 4095;
    const differences = Array.from(a.data, (value, i) => value - (b.data[i] ?? 0)).filter((_, i) => i % 3 === 1);
    const spread = Math.sqrt(differences.reduce((sum, difference) => sum + difference * difference, 0) / differences.length / 2) / 4095;
    // Poisson: standard deviation = sqrt(electrons); 11,000 fill a pixel.
    expect(spread / Math.sqrt(mean / 11_000)).toBeCloseTo(1, 1);
  });

  it('of a region show the same place as that part of the whole frame', () => {
    const scene = createScene(sceneOptions());
    const whole = picture(scene);
    const region = { colPx: 100, rowPx: 60, widthPx: 80, heightPx: 50 };
    const part = picture(scene, { region });
    const within = (column: number, row: number) => column > 100 && column < 180 && row > 60 && row < 110;
    expect(meanWhere(part, 1) / meanWhere(whole, 1, within)).toBeCloseTo(1, 2);
    for (const left of [0, 20, 40, 60]) {
      const strip = (from: number) => (column: number) => column > from && column < from + 20;
      const wholeStrip = meanWhere(whole, 1, (column, row) => within(column, row) && strip(100 + left)(column));
      expect(meanWhere(part, 1, strip(left)) / wholeStrip).toBeCloseTo(1, 2);
    }
  });
});
