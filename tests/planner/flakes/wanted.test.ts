import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { addTile, emptyBook, flakesOf, rereadBook } from '../../../planner/flakes/book.ts';
import type { BookContext } from '../../../planner/flakes/book.ts';
import { rankOf } from '../../../planner/flakes/rank.ts';
import type { Detection, Flake, LayerCall, ThicknessCall } from '../../../planner/flakes/types.ts';
import { seeksThickness, wantedShare } from '../../../planner/flakes/wanted.ts';
import { halogen, idealColourBands, thicknessCurve } from '../../../planner/optics/index.ts';
import { box, context, detection, MEASURED, pose, terrace } from './drawn.ts';

const hbn: BookContext = { ...context, material: 'hbn', oxideNm: 90 };
const curveOf = (nms: readonly number[], material: 'hbn' | 'graphite' = 'hbn', oxideNm = 91): readonly (readonly number[])[] =>
  thicknessCurve({ material, oxideNm, numericalAperture: 0.3, lamp: halogen, bands: idealColourBands, thicknessesNm: nms }).contrast;

/** Flakes of these thicknesses in a row, as a camera would see them on 91 nm oxide. */
function seen(nms: readonly number[], material: 'hbn' | 'graphite' = 'hbn', sizeUm = 12): readonly Detection[] {
  return curveOf(nms, material).map((contrast, i) => {
    const outline = box(-90 + 20 * i, 0, sizeUm, sizeUm);
    return { ...detection(outline, 0), terraces: [{ ...terrace(outline, 0), contrast, contrastError: [0.003, 0.003, 0.003] }] };
  });
}

function read(under: BookContext, detections: readonly Detection[]): readonly Flake[] {
  return flakesOf(rereadBook(addTile(emptyBook(under), 0, pose(0), detections).book).book);
}

const flagged = (flakes: readonly Flake[]): readonly number[] => flakes.filter((f) => f.verdict === 'flagged').map((f) => Math.round(f.terraces[0]?.call.thicknessNm ?? 0)).sort((a, b) => a - b);

describe('looking for a thickness', () => {
  const nms = [2, 6, 10, 14, 20, 26, 32, 110];

  it('flags the flakes whose thickness lies in the range, and no others', () => {
    expect(flagged(read({ ...hbn, thicknessFromNm: 8, thicknessToNm: 23 }, seen(nms)))).toEqual([10, 14, 20]);
    expect(flagged(read({ ...hbn, thicknessFromNm: 100, thicknessToNm: 120 }, seen(nms)))).toEqual([110]);
  });

  it('of graphite as of hBN', () => {
    expect(flagged(read({ ...hbn, material: 'graphite', thicknessFromNm: 8, thicknessToNm: 23 }, seen(nms, 'graphite')))).toEqual([10, 14, 20]);
  });

  it('ranks by size and certainty, thin no better than thick', () => {
    const under = { ...hbn, thicknessFromNm: 5, thicknessToNm: 35 };
    const small = seen([10], 'hbn', 8);
    const large = seen([10, 32], 'hbn', 16).slice(1);
    const [first, second] = read(under, [...small, ...large]);
    expect([first, second].map((f) => Math.round(f?.usableUm ?? 0))).toEqual([16, 8]);
    expect(first?.rankParts?.layers).toBe(1);
    expect(first?.rank).toBeCloseTo(rankOf(first?.rankParts ?? { size: 0, layers: 0, probability: 0, cleanliness: 0 }), 9);
  });

  it('chooses the largest terrace in the range, not the thinnest', () => {
    const [thin = [], wide = []] = curveOf([12, 18]);
    const base = { ...terrace(box(0, 0, 30, 20), 0), contrast: wide, areaUm2: 500 };
    const rim = { ...terrace(box(30, 0, 10, 10), 0), contrast: thin };
    const [flake] = read({ ...hbn, thicknessFromNm: 8, thicknessToNm: 23 }, [{ terraces: [base, rim], outlineUm: box(0, 0, 40, 20), areaUm2: 600, touchesFrameEdge: false }]);
    expect(flake?.usableUm).toBe(20);
    expect(flake?.bar?.widthUm).toBeGreaterThan(18);
  });

  it('without a range flags hBN by its layers, as before', () => {
    const flakes = read(hbn, seen([0.666, 1.332, 3, 20]));
    expect(flakes.filter((f) => f.verdict === 'flagged').map((f) => f.layers ?? 0).sort((a, b) => a - b)).toEqual([2, 4]);
    expect(seeksThickness({ ...context, thicknessFromNm: 1, thicknessToNm: 2 })).toBe(false);
  });

  it('counts what lies in the range of all readings together, and an open one for nothing', () => {
    const call = (thickness: ThicknessCall): LayerCall => ({ layers: null, probability: 1, probabilities: [0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 1], misfit: 0, thickness });
    const under = { ...hbn, thicknessFromNm: 10, thicknessToNm: 20 };
    const one = { nm: 15, lowNm: 11, highNm: 19, weight: 0.6, alternatives: [{ nm: 90, errorNm: 2, weight: 0.4 }] };
    expect(wantedShare(call(one), under)).toBeCloseTo(0.6, 9);
    expect(wantedShare(call({ ...one, weight: 0.45 }), under)).toBe(0);
    expect(wantedShare(call({ ...one, lowNm: 5, highNm: 15, weight: 1, alternatives: [] }), under)).toBe(0);
    expect(wantedShare(call({ ...one, lowNm: 14, highNm: 24, weight: 1, alternatives: [] }), under)).toBeCloseTo(0.6, 9);
    expect(wantedShare(call({ ...one, highNm: null, weight: 1, alternatives: [] }), under)).toBe(0);
    fc.assert(fc.property(fc.double({ min: 0, max: 100, noNaN: true }), fc.double({ min: 0.1, max: 100, noNaN: true }), (low, wide) => {
      const share = wantedShare(call({ ...one, lowNm: low, highNm: low + wide, weight: 1, alternatives: [] }), under);
      expect(share === 0 || (share > 0.5 && share <= 1 + 1e-12)).toBe(true);
    }));
  });
});

describe('a flake smaller than wanted', () => {
  const small = detection(box(-80, 0, 3, 30), MEASURED[0]);
  const others = MEASURED.map((c, i) => detection(box(-60 + 30 * i, 0, 4 + i, 10), c));

  it('stands below every one that is large enough, however thin it is, with a note', () => {
    const flakes = read(context, [small, ...others]).filter((f) => f.verdict === 'flagged');
    expect(flakes).toHaveLength(5);
    const last = flakes.at(-1);
    expect(last?.layers).toBe(1);
    expect(last?.notes?.filter((n) => n.kind === 'smallerThanWanted')).toEqual([{ kind: 'smallerThanWanted', terrace: 0, acrossUm: 3, wantedUm: 4 }]);
    expect(flakes.slice(0, -1).some((f) => f.notes?.some((n) => n.kind === 'smallerThanWanted'))).toBe(false);
    expect(last?.rank).toBeGreaterThan(0);
  });

  it('is as good as any when nobody asks for a size', () => {
    const flakes = read({ ...context, leastUsableUm: 0 }, [small, ...others]);
    expect(flakes.find((f) => f.usableUm === 3)?.notes?.some((n) => n.kind === 'smallerThanWanted')).toBe(false);
  });

  it('never passes one that is large enough, whatever their parts', () => {
    const part = fc.double({ min: 0, max: 1, noNaN: true });
    const parts = fc.record({ size: part, layers: part, probability: part, cleanliness: part });
    fc.assert(fc.property(parts, parts, (a, b) => {
      expect(rankOf({ ...a, enough: 1e-4 })).toBeLessThanOrEqual(rankOf(b));
    }));
  });
});
