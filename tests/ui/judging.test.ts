import { describe, expect, it } from 'vitest';
import type { ContrastChart } from '../../planner/optics/index.ts';
import { contrastReport } from '../../planner/optics/index.ts';
import type { LayerCall } from '../../planner/flakes/types.ts';
import { along, contrastSteps } from '../../ui/chart/contrastMap.ts';
import { barCorners } from '../../ui/parts/flakeCanvas.ts';
import { barSize } from '../../ui/state/barSize.ts';
import { judgeAction, ShownFlakes, sourceOf } from '../../ui/state/judging.ts';
import { contrastRequestFor } from '../../ui/state/opticsOf.ts';
import { texts } from '../../ui/texts.ts';
import { flakeTexts } from '../../ui/textsFlake.ts';
import { opticsTexts } from '../../ui/textsOptics.ts';
import { flakeView, runView, terrace } from './support.ts';

describe('where a number comes from', () => {
  it('is what measured it; an eye counts as blind only when the page has not shown the prediction', () => {
    expect([sourceOf('raman', true), sourceOf('afm', false), sourceOf('eye', true), sourceOf('eye', false)]).toEqual(['raman', 'afm', 'shownEye', 'blindEye']);
  });

  it('is remembered for every flake that was shown, and told to whoever keeps it', () => {
    let kept: readonly string[] = [];
    const shown = new ShownFlakes(['a'], (ids) => (kept = ids));
    shown.add('b');
    shown.add('b');
    expect([shown.has('a'), shown.has('b'), shown.has('c')]).toEqual([true, true, false]);
    expect(kept).toEqual(['a', 'b']);
  });
});

describe('keys on the numbers', () => {
  it('give one to ten layers, choose means and terrace, take back, and leave the rest to the page', () => {
    expect(['1', '9', '0'].map(judgeAction)).toEqual([1, 9, 10].map((layers) => ({ do: 'give', layers })));
    expect(['e', 'R', 'a'].map((key) => judgeAction(key))).toEqual(['eye', 'raman', 'afm'].map((means) => ({ do: 'means', means })));
    expect([judgeAction('ArrowDown'), judgeAction('ArrowLeft'), judgeAction('Backspace')]).toEqual([{ do: 'terrace', step: 1 }, { do: 'number', step: -1 }, { do: 'takeBack' }]);
    expect(['n', 'Escape', ' ', 'Tab', 'z'].map(judgeAction)).toEqual([undefined, undefined, undefined, undefined, undefined]);
  });
});

describe('a wanted bar', () => {
  it('is two lengths in any order, with a point or a comma', () => {
    expect(barSize('20', '5')).toEqual({ lengthUm: 20, widthUm: 5 });
    expect(barSize('2,5', ' 30.5 ')).toEqual({ lengthUm: 30.5, widthUm: 2.5 });
    for (const [a, b] of [['', '5'], ['20', ' '], ['x', '5'], ['0', '5'], ['-3', '5'], ['1e9', '5']] as const) expect(barSize(a, b)).toBeUndefined();
  });

  it('has its corners half a length along and half a width across its middle', () => {
    // By hand: a bar of 20 by 4 about (10, 5), turned by a quarter, stands 20 high and 4 wide.
    const corners = barCorners({ centreUm: { xUm: 10, yUm: 5 }, lengthUm: 20, widthUm: 4, angleDeg: 90 });
    const xs = corners.map((p) => p.xUm).sort((a, b) => a - b);
    const ys = corners.map((p) => p.yUm).sort((a, b) => a - b);
    expect(xs).toEqual([8, 8, 12, 12].map((x) => expect.closeTo(x, 9)));
    expect(ys).toEqual([-5, -5, 15, 15].map((y) => expect.closeTo(y, 9)));
  });
});

describe('what the page says of a terrace', () => {
  const call = (probabilities: readonly number[], layers: number | null = 1, more: Partial<LayerCall> = {}): LayerCall => ({ layers, probability: Math.max(...probabilities), probabilities: [...probabilities, ...Array.from({ length: 12 - probabilities.length }, () => 0)], misfit: 1, ...more });
  const says = (of: LayerCall): string => texts.terraceName(terrace(of.layers, [0.1], { call: of }));

  it('is one number only where that is sure', () => {
    expect(says(call([0, 0.99, 0.01]))).toBe('one layer');
    expect(says(call([0, 0.7, 0.3]))).toBe('1 or 2 layers');
    expect(says(call([0, 0.4, 0.3, 0.3]))).toBe('1 to 3 layers');
    expect(says(call([0.4, 0.6]))).toBe('one layer, or none');
  });

  it('is a range where no table is exact, open where it is thicker than counted, and a thickness where that is measured', () => {
    expect(says(call([0, 0, 0, 0, 0, 0, 0, 0, 1], 8))).toBe('7 to 9 layers');
    expect(says(call([0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 1], null))).toBe('too thick to count');
    const thickness = { nm: 12.34, lowNm: 11.1, highNm: 13.6, weight: 0.8, alternatives: [{ nm: 140, errorNm: 3, weight: 0.2 }] };
    expect(says(call([0, 1], 1, { thickness }))).toBe('12.3\u00a0nm, 11.1 to 13.6');
    expect(says(call([0, 1], 1, { thickness: { ...thickness, highNm: null } }))).toBe('more than 11.1\u00a0nm');
    expect(flakeTexts.facts.orElseIs(thickness.alternatives)).toContain('140\u00a0±\u00a03\u00a0nm');
  });

  it('names the reason of a rejection, and how likely accident is for an edge family', () => {
    expect(texts.finding({ ...flakeView('a', null, 0, 'rejected').flake, reject: 'softEdge' })).toBe('Rejected: soft edge: a dried film or residue');
    const family = { angleDeg: 12.34, angleErrorDeg: 0.4, directions: 5, members: 4, lengthShare: 0.8, chance: 0.03 };
    expect(flakeTexts.facts.familyIs(family)).toBe('12.3\u00a0±\u00a00.4°, 4 of 5 directions; unlikely by accident: 3 in 100');
    expect(flakeTexts.facts.familyIs({ ...family, chance: 0.3 })).toContain('may well be accident: 30 in 100');
  });

  it('turns every note into a doubt that says what it is first', () => {
    expect(flakeTexts.doubt({ kind: 'twoLayersOrFold', terrace: 1, base: 0, layers: 2, widthUm: 3 })).toEqual(['2 layers or a fold.', 'Terrace 2 is a strip along terrace 1 with twice its layers: colour cannot tell which.']);
    expect(flakeTexts.doubt({ kind: 'confirmLarger', terrace: 0, acrossUm: 3.14, neededUm: 4.5 })[1]).toBe('The part that counts is 3.1\u00a0µm across, and this objective wants 4.5\u00a0µm.');
    expect(flakeTexts.doubt({ kind: 'smallerThanWanted', terrace: 0, acrossUm: 3, wantedUm: 8 })[0]).toBe('Smaller than wanted.');
    expect(flakeTexts.doubt({ kind: 'halo', terrace: 0, contrast: -0.021 })[1]).toContain('−2.1\u00a0%');
  });

  it('says from what the ladder comes', () => {
    const calibration = { terraces: 14, labels: 2, oxideNm: 287.34, oxideErrorNm: 1.24, scale: [1, 1, 1] };
    expect(flakeTexts.calibration(290, calibration)).toBe('Ladder from 14 terraces and 2 labels; fits best with 287\u00a0nm of oxide (box: 290)');
    expect(flakeTexts.calibration(290, { ...calibration, labels: 0 })).not.toContain('label');
    for (const none of [undefined, { ...calibration, terraces: 0, labels: 0 }]) expect(flakeTexts.calibration(290, none)).toBe('Ladder from the tables alone');
  });
});

describe('the contrast chart of tonight', () => {
  const chart = (contrast: readonly number[]): ContrastChart => ({ oxidesNm: [0, 100, 200], wavelengthsNm: [400, 500], contrast: Float64Array.from(contrast) });
  const plot = { left: 10, top: 20, width: 200, height: 100 };
  const corners = (path: string): { xs: number[]; ys: number[] } => {
    const numbers = (path.match(/-?[\d.]+/g) ?? []).map(Number);
    return { xs: numbers.filter((_, i) => i % 2 === 0), ys: numbers.filter((_, i) => i % 2 === 1) };
  };

  it('fills the whole plot where all contrast is above a step, either sign, and hatches only what is brighter', () => {
    const { steps, brighter } = contrastSteps(chart([0.1, 0.1, 0.1, 0.1, 0.1, 0.1]), [0.05, 0.2], plot);
    const { xs, ys } = corners(steps[0] ?? '');
    expect([Math.min(...xs), Math.max(...xs), Math.min(...ys), Math.max(...ys)]).toEqual([10, 210, 20, 120]);
    expect([steps[1], brighter]).toEqual(['', '']);
    expect(contrastSteps(chart([-0.1, -0.1, -0.1, -0.1, -0.1, -0.1]), [0.05], plot).brighter).not.toBe('');
  });

  it('has oxide to the right and wavelength upwards', () => {
    // Contrast only on the widest oxide in the shortest light: lower right.
    const { xs, ys } = corners(contrastSteps(chart([0, 0, 1, 0, 0, 0]), [0.5], plot).steps[0] ?? '');
    expect(Math.min(...xs)).toBeGreaterThanOrEqual(160);
    expect(Math.min(...ys)).toBeGreaterThanOrEqual(70);
    expect([along(0, [0, 400], 50, 200), along(100, [0, 400], 50, 200), along(999, [0, 400], 50, 200)]).toEqual([50, 100, 250]);
  });

  it('is asked with the oxide that the ladder found, and refused for a material that came with the run sheet', () => {
    const run = runView('r', { calibrations: { 'K-07': { terraces: 9, labels: 0, oxideNm: 287, oxideErrorNm: 1, scale: [1, 1, 1] } } });
    const [chip] = run.chips;
    if (!chip) throw new Error('no chip');
    expect(contrastRequestFor(run, chip, 'graphene')).toMatchObject({ material: 'graphene', oxideNm: 287, numericalAperture: 0.3 });
    expect(contrastRequestFor({ ...run, calibrations: {} }, chip, 'graphene')?.oxideNm).toBe(290);
    expect(contrastRequestFor(run, { ...chip, material: 'my film' }, 'my film')).toBeUndefined();
  });

  // Known to practitioners: on 315 nm oxide graphene is hard to see in green light (the ratio of green to red has fallen to 0.25 there, issue B).
  it('warns in words of what a channel cannot tell apart', () => {
    const run = runView();
    const [chip] = run.chips;
    const request = chip && contrastRequestFor(run, { ...chip, oxideNm: 315 }, 'graphene');
    if (!request) throw new Error('no request');
    expect(opticsTexts.warnings(contrastReport(request)).join(' ')).toMatch(/In green alone: the bare oxide and 1 layer|In green alone: neighbours from the bare oxide/);
  });
});
