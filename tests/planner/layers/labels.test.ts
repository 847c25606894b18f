import { describe, expect, it } from 'vitest';
import { LABELS_MOST, usableLabels } from '../../../planner/layers/labels.ts';
import { fitLadder } from '../../../planner/layers/ladder.ts';
import { readContrast } from '../../../planner/layers/posterior.ts';
import { ladderLayers } from '../../../planner/layers/tuning.ts';
import type { ContrastSample, LabelledContrast, LabelSource, LadderContext } from '../../../planner/layers/types.ts';
import { constantIndex, halogen, idealColourBands, layerCurve } from '../../../planner/optics/index.ts';
import type { Film } from '../../../planner/optics/index.ts';

const context: LadderContext = { material: 'graphene', oxideNm: 285, numericalAperture: 0.3, lamp: 'halogen', channels: 3 };
/** The films that Ni et al. 2007 and Blake et al. 2007 fitted (from memory): both other than the ladder's own table. */
const ni: Film = { table: constantIndex('ni2007', { n: 2, k: 1.1 }), layerThicknessNm: 0.335 };
const blake: Film = { table: constantIndex('blake2007', { n: 2.6, k: 1.3 }), layerThicknessNm: 0.34 };

function staircase(film: Film): (layers: number, seed?: number) => ContrastSample {
  const { contrast } = layerCurve({ material: film, oxideNm: 285, numericalAperture: 0.3, lamp: halogen, bands: idealColourBands, layersMax: 20 });
  return (layers, seed = 0) => ({ contrast: (contrast[layers] ?? []).map((c, k) => c + 0.002 * Math.sin(7 * seed + 3 * k)), contrastError: [0.002, 0.002, 0.002] });
}

const label = (sample: ContrastSample, layers: number, source: LabelSource): LabelledContrast => ({ ...sample, layers, source });

describe('labels', () => {
  const niFilm = staircase(ni);
  const found = [1, 1, 1, 2, 2, 3, 4, 4, 5, 6];
  const good = found.map((n, i) => niFilm(n, i));
  const readAll = (labelled: readonly LabelledContrast[]): readonly (number | null)[] => {
    const ladder = fitLadder(context, good, labelled);
    return good.map((s) => readContrast(ladder, s).layers);
  };

  it('settle by Raman what one flake alone leaves open', () => {
    const [three, two] = [staircase(blake)(3, 1), staircase(blake)(2, 4)];
    const alone = readContrast(fitLadder(context, [three]), three);
    expect(alone.probability).toBeLessThan(0.9);
    const told = readContrast(fitLadder(context, [three], [label(two, 2, 'raman')]), three);
    expect(told.layers).toBe(3);
    expect(told.probability).toBeGreaterThan(0.99);
  });

  it.each(['raman', 'afm'] as const)('by %s turn a reading round that the tables had wrong', (source) => {
    // Two layers of Ni's film look like one of a film a third darker than the table, which is as likely.
    const [pair, other] = [niFilm(2, 1), niFilm(2, 4)];
    expect(readContrast(fitLadder(context, [pair]), pair).layers).toBe(1);
    expect(readContrast(fitLadder(context, [pair], [label(other, 2, source)]), pair).layers).toBe(2);
    expect(readContrast(fitLadder(context, [pair, other], [label(other, 2, source)]), pair).layers).toBe(2);
  });

  it('by eye move a doubtful reading, blind ones more than those that were shown the prediction', () => {
    const [three, two] = [staircase(blake)(3, 1), staircase(blake)(2, 4)];
    const asTwo = (labelled: readonly LabelledContrast[]): number => readContrast(fitLadder(context, [three], labelled), three).probabilities[2] ?? 0;
    const [none, shown, blind, raman] = [asTwo([]), asTwo([label(three, 2, 'shownEye')]), asTwo([label(three, 2, 'blindEye')]), asTwo([label(three, 2, 'raman')])];
    expect(shown).toBeGreaterThan(1.5 * none);
    expect(blind).toBeGreaterThan(2 * shown);
    expect(raman).toBeGreaterThan(blind);
    expect(two.contrast).not.toEqual(three.contrast);
  });

  it('by eyes do not break a good ladder, were all of them wrong', () => {
    for (const source of ['blindEye', 'shownEye'] as const) {
      for (const wrong of [1, 3, 10]) expect(readAll(good.slice(0, wrong).map((s, i) => label(s, (found[i] ?? 0) + 1, source)))).toEqual(found);
    }
  });

  it('on the wrong flake do not break one either when it is one or two of them, even by Raman', () => {
    for (const wrong of [1, 2]) expect(readAll(good.slice(0, wrong).map((s) => label(s, 3, 'raman')))).toEqual(found);
  });

  it('that were shown the prediction count no more for being many', () => {
    const threes = Array.from({ length: 40 }, (_, i) => staircase(blake)(3, i));
    const asFour = (source: LabelSource): number => {
      const [probe] = threes as [ContrastSample];
      return readContrast(fitLadder(context, threes, threes.map((s) => label(s, 4, source))), probe).probabilities[4] ?? 0;
    };
    expect(asFour('shownEye')).toBeLessThan(0.1);
    expect(asFour('blindEye')).toBeGreaterThan(0.9);
  });

  it('change nothing when there are none, or none for this camera or this ladder', () => {
    const plain = fitLadder(context, good);
    const [first] = good as [ContrastSample];
    expect(plain.labelled).toBe(0);
    const useless = [label({ contrast: [0.1], contrastError: [0.01] }, 1, 'raman'), label(first, 0, 'raman'), label(first, 45, 'afm')];
    for (const labelled of [[], useless]) expect(fitLadder(context, good, labelled)).toEqual(plain);
  });

  it('count a terrace once that is among the samples too, whose number they tell', () => {
    const labelled = [label(good[3] as ContrastSample, 2, 'raman'), label(niFilm(7, 3), 7, 'blindEye')];
    const ladder = fitLadder(context, good, labelled);
    expect(ladder.labelled).toBe(2);
    expect(ladder.samples).toBe(good.length + 1);
  });

  it('fit the ladder by themselves, without any other terrace', () => {
    const ladder = fitLadder(context, [], [label(niFilm(1), 1, 'raman'), label(niFilm(3), 3, 'afm')]);
    expect([1, 2, 3, 4, 5].map((n) => readContrast(ladder, niFilm(n, n)).layers)).toEqual([1, 2, 3, 4, 5]);
  });

  it('are the strongest of too many', () => {
    const eyes = Array.from({ length: LABELS_MOST }, (_, i) => label(niFilm(2, i), 2, 'shownEye'));
    const kept = usableLabels(context, ladderLayers(context), [...eyes, label(niFilm(1), 1, 'raman')]);
    expect(kept).toHaveLength(LABELS_MOST);
    expect(kept[0]?.source).toBe('raman');
  });

  it('of AFM bind the thickness of hBN', () => {
    const hbn: LadderContext = { ...context, material: 'hbn', oxideNm: 90, channels: 3 };
    const curve = layerCurve({ material: 'hbn', oxideNm: 92, numericalAperture: 0.3, lamp: halogen, bands: idealColourBands, layersMax: 80 });
    const at = (n: number): ContrastSample => ({ contrast: curve.contrast[n] ?? [], contrastError: [0.003, 0.003, 0.003] });
    const ladder = fitLadder(hbn, [at(30)], [label(at(60), 60, 'afm')]);
    expect(ladder.labelled).toBe(1);
    expect(Math.abs((readContrast(ladder, at(30)).thicknessNm ?? 0) - 30 * 0.333)).toBeLessThan(1);
  });
});
