import { readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import { contrastLanes } from '../../ui/chart/lanes.ts';
import { layerTone } from '../../ui/layerRamp.ts';
import { nightLine } from '../../ui/state/nightLine.ts';
import { progressView, runView, terrace, tileView } from './support.ts';

const ladder = Array.from({ length: 11 }, (_, n) => [0.05 * n, -0.02 * n, 0.001 * n]);
const chart = (terraces: Parameters<typeof contrastLanes>[0]['terraces']): ReturnType<typeof contrastLanes> => contrastLanes({ terraces, ladder, channels: ['red', 'green', 'blue'], fromPx: 40, toPx: 300 });

describe('contrast in lanes', () => {
  it('puts a measured dot on the tick whose contrast it has', () => {
    const { lanes } = chart([terrace(2, ladder[2] ?? [])]);
    for (const lane of lanes) expect(lane.dots[0]?.x).toBeCloseTo(lane.ticks[1]?.x ?? NaN, 9);
  });

  it('has one linear axis for all lanes, zero on it, and everything within its ends', () => {
    const { lanes, axis, zeroX } = chart([terrace(1, [0.05, -0.02, 0]), terrace(3, [0.15, -0.06, 0])]);
    const [a, b] = [axis[0], axis.at(-1)];
    const scale = ((b?.x ?? 0) - (a?.x ?? 0)) / ((b?.share ?? 0) - (a?.share ?? 0));
    expect(lanes[0]?.ticks[0]?.x).toBeCloseTo(zeroX + 0.05 * scale, 6);
    for (const lane of lanes) for (const x of [...lane.ticks.map((t) => t.x), ...lane.dots.flatMap((d) => [d.fromX, d.toX])]) expect(x >= 40 && x <= 300).toBe(true);
  });

  it('draws two standard errors to each side', () => {
    const { lanes, axis } = chart([terrace(1, [0.05, -0.02, 0.001])]);
    const perShare = ((axis[1]?.x ?? 0) - (axis[0]?.x ?? 0)) / ((axis[1]?.share ?? 0) - (axis[0]?.share ?? 0));
    const dot = lanes[0]?.dots[0];
    expect(dot?.toX).toBeCloseTo((dot?.x ?? 0) + 0.02 * perShare, 6);
  });

  it('shows rungs up to two beyond the thickest terrace, and leaves out numbers that would run together', () => {
    const { lanes } = chart([terrace(2, ladder[2] ?? [])]);
    expect(lanes[0]?.ticks.map((tick) => tick.label)).toEqual(['1', '2', '3', '4']);
    expect(lanes[2]?.ticks.length).toBe(4);
    expect(lanes[2]?.ticks.filter((tick) => tick.label !== undefined).length).toBeLessThan(4);
  });

  it('stands without a ladder, and with a terrace too thick to count', () => {
    expect(contrastLanes({ terraces: [terrace(1)], ladder: [], channels: ['light'], fromPx: 0, toPx: 100 }).lanes[0]?.ticks).toEqual([]);
    expect(chart([terrace(null, [0.6, 0.2, 0.1])]).lanes[0]?.dots[0]?.mark).toBe('thick');
  });
});

describe('the night line', () => {
  const chip = (name: string, tiles: number): ReturnType<typeof runView>['chips'][number] => ({ name, material: 'graphene', oxideNm: 290, outlineUm: [], originUm: { xUm: 0, yUm: 0 }, angleDeg: 0, tiles, tilesDone: 0 });
  const run = runView('r', { chips: [chip('A', 4), chip('B', 4)], startedAtMs: 0 });
  const tiles = [0, 1, 2, 3, 4, 5, 6, 7].map((i) => tileView(i, i < 2 ? 'done' : 'planned', i < 4 ? 'A' : 'B'));

  it('gives tiles that are done the time that has passed, and the others the time that is left', () => {
    const line = nightLine({ run, tiles, progress: progressView({ tilesDone: 2, tiles: 8, clockMs: 10_000, doneAtMs: 40_000 }) }, 0);
    const [a, b] = line?.bars ?? [];
    const end = line?.end ?? NaN;
    // By hand: two tiles took 10 s; six tiles share the other 30 s, 5 s each; A ends after two more, at 20 s of 40 s.
    expect([a?.from, (a?.to ?? 0) / end, (b?.from ?? 0) / end, (b?.to ?? 0) / end, (line?.now ?? 0) / end]).toEqual([0, 0.5, 0.5, 1, 0.25].map((x) => expect.closeTo(x, 9)));
    expect([a?.done, b?.done]).toEqual([0.5, 0]);
    expect(line?.ended).toBe(false);
  });

  it('has a few ticks in order within the line, and none is said of a night that has not begun', () => {
    const line = nightLine({ run, tiles, progress: progressView({ tilesDone: 2, tiles: 8, clockMs: 3_600_000, doneAtMs: 30_000_000 }) }, 0);
    const at = line?.ticks.map((tick) => tick.at) ?? [];
    expect(at.length).toBeGreaterThan(1);
    expect(at.length).toBeLessThan(8);
    expect([...at].sort((x, y) => x - y)).toEqual(at);
    expect(nightLine({ run: null, tiles: [], progress: null }, 0)).toBeUndefined();
  });

  it('ends where the night ended', () => {
    const line = nightLine({ run, tiles, progress: progressView({ state: 'finished', tilesDone: 8, tiles: 8, leftS: 0, clockMs: 50_000, doneAtMs: 40_000 }) }, 0);
    expect(line).toMatchObject({ ended: true, endMs: 40_000 });
    expect(line?.now).toBe(line?.end);
  });
});

/** Relative luminance and contrast ratio: WCAG 2.2, definitions "relative luminance" and "contrast ratio". */
function luminance(hex: string): number {
  const [r = 0, g = 0, b = 0] = [1, 3, 5].map((i) => parseInt(hex.slice(i, i + 2), 16) / 255).map((v) => (v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4));
  return 0.2126 * r + 0.7152 * g + 0.0722 * b;
}
function ratio(a: string, b: string): number {
  const [low = 0, high = 0] = [luminance(a), luminance(b)].sort((x, y) => x - y);
  return (high + 0.05) / (low + 0.05);
}

describe('colours', () => {
  const css = readFileSync(new URL('../../ui/styles/tokens.css', import.meta.url), 'utf8');
  const [dark = '', light = ''] = css.split(":root[data-theme='light']");
  const token = (theme: string, name: string): string => new RegExp(`--${name}: (#[0-9a-f]{6});`).exec(theme)?.[1] ?? '';
  const themes = [['dark', dark], ['light', light]] as const;

  // WCAG 2.2: 4.5 for text (1.4.3), 3 for the edges of controls and for focus (1.4.11).
  it.each(themes)('every ink can be read on every ground, %s', (_, theme) => {
    for (const ground of ['ground', 'surface', 'raised']) for (const ink of ['ink', 'ink-2', 'ink-3', 'accent']) expect(ratio(token(theme, ink), token(theme, ground))).toBeGreaterThanOrEqual(4.5);
    expect(ratio(token(theme, 'paper-ink'), token(theme, 'paper'))).toBeGreaterThanOrEqual(4.5);
    expect(ratio(token(theme, 'paper-ink-2'), token(theme, 'paper'))).toBeGreaterThanOrEqual(4.5);
    expect(ratio(token(theme, 'on-accent'), token(theme, 'accent'))).toBeGreaterThanOrEqual(4.5);
    expect(ratio(token(theme, 'line-strong'), token(theme, 'surface'))).toBeGreaterThanOrEqual(3);
    expect(ratio(token(theme, 'focus'), token(theme, 'ground'))).toBeGreaterThanOrEqual(3);
  });

  it('layer numbers can be read on their swatches, and swatches get darker with every layer', () => {
    const tones = Array.from({ length: 10 }, (_, i) => layerTone(i + 1));
    for (const tone of [...tones, layerTone('thick'), layerTone('none')]) {
      expect(ratio(tone.ink, tone.fill)).toBeGreaterThanOrEqual(4.5);
      expect(ratio(tone.casing, tone.fill)).toBeGreaterThanOrEqual(3);
      expect(ratio(tone.casing, tone.outer)).toBeGreaterThanOrEqual(3);
    }
    tones.slice(1).forEach((tone, i) => expect(luminance(tone.fill)).toBeLessThan(luminance(tones[i]?.fill ?? '#000000')));
  });
});
