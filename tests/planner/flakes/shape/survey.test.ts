import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { fitBarOnFlake } from '../../../../planner/flakes/shape/barOnFlake.ts';
import type { BookContext } from '../../../../planner/flakes/context.ts';
import type { Neighbour } from '../../../../planner/flakes/shape/neighbour.ts';
import { resolutionUm } from '../../../../planner/flakes/shape/resolution.ts';
import { surveyed } from '../../../../planner/flakes/shape/survey.ts';
import type { Flake, Terrace } from '../../../../planner/flakes/types.ts';
import { boundingBox } from '../../../../planner/geometry/polygon.ts';
import type { StagePoint } from '../../../../planner/units/index.ts';
import { context } from '../drawn.ts';
import { at, box, flake, terrace, turn } from './flakes.ts';

const NA = 0.3;
const CONTEXT: BookContext = { ...context, numericalAperture: NA, leastUsableUm: 0 };
const ELEMENT = resolutionUm(NA);
const whole = box(0, 0, 40, 20);
const dirt = (id: string, outline: readonly StagePoint[]): Neighbour => ({ id, boxUm: boundingBox(outline), outlinesUm: [outline], isDirt: true, stands: true });
const simple = flake([terrace(whole, 1, 20)], { centreUm: at(20, 10) });
const kinds = (f: Flake): readonly string[] => (f.notes ?? []).map((n) => n.kind);

describe('resolution element', () => {
  it('of a 10x/0.30 is 0.61 x 0.55 um/0.30 = 1.118 um (Rayleigh)', () => {
    expect(ELEMENT).toBeCloseTo(1.1183, 4);
  });
});

describe('a flagged flake surveyed', () => {
  it('has the whole rectangle as its bar, four edges, full cleanliness, no notes; its rank is 100 times the product of its parts', () => {
    const found = surveyed(simple, whole, [], CONTEXT);
    expect(found.bar?.lengthUm).toBeGreaterThan(39.6);
    expect(found.bar?.widthUm).toBeGreaterThan(19.8);
    expect(found.edges).toHaveLength(4);
    // Two directions a right angle apart are three times 30 degrees apart; that much happens once in five: 2 x 3/30.
    expect(found.edgeFamily).toMatchObject({ directions: 2, members: 2, lengthShare: 1 });
    expect(found.edgeFamily?.chance).toBeCloseTo(0.2, 9);
    expect(found.cleanliness).toEqual({ share: 1, blemishes: 0 });
    expect(found.notes).toEqual([]);
    const parts = found.rankParts ?? { size: 0, layers: 0, probability: 0, cleanliness: 0 };
    expect(parts.layers).toBe(1);
    expect(found.rank).toBeCloseTo(100 * parts.size * parts.layers * parts.probability * parts.cleanliness, 12);
  });

  it('keeps its bar clear of a thicker terrace and of dirt on it, and ranks lower for the dirt', () => {
    const step = terrace(box(0, 0, 10, 20), 3, 10);
    const base = terrace(whole, 1, 20, 600);
    const stepped = surveyed(flake([base, step]), whole, [], CONTEXT);
    expect(stepped.bar?.lengthUm).toBeCloseTo(30, 0);
    const spot = dirt('spot', box(18, 8, 22, 12));
    const spotted = surveyed({ ...simple, terraces: [terrace(whole, 1, 20, 784)] }, whole, [spot], CONTEXT);
    // Left of the spot 18 x 20, below it 40 x 8: the first is larger.
    expect((spotted.bar?.lengthUm ?? 0) * (spotted.bar?.widthUm ?? 0)).toBeCloseTo(360, -1);
    expect(spotted.cleanliness?.blemishes).toBe(1);
    expect(spotted.rank).toBeLessThan(surveyed(simple, whole, [], CONTEXT).rank);
    expect(spotted.clearance?.nearest).toBeUndefined();
  });

  it('comes back as it is when it is not flagged, and does not take itself for a neighbour', () => {
    const thick = flake([terrace(whole, null, 20)], { verdict: 'thick' });
    expect(surveyed(thick, whole, [], CONTEXT)).toBe(thick);
    expect(surveyed(simple, whole, [dirt(simple.id, box(41, 0, 45, 20))], CONTEXT).clearance?.nearest).toBeUndefined();
  });

  it('turns with the flake: bar, edges and clearance stay the same in size', () => {
    const outline = [at(0, 0), at(42, 0), at(50, 14), at(20, 26), at(4, 17)];
    fc.assert(
      fc.property(fc.double({ min: 0, max: 360, noNaN: true }), (a) => {
        const survey = (angle: number): Flake => {
          const [p] = turn([at(24, 12)], angle, 900, 400);
          const moved = turn(outline, angle, 900, 400);
          return surveyed(flake([terrace(moved, 2, 20)], { centreUm: p ?? at(0, 0) }), moved, [dirt('d', turn(box(70, 0, 80, 10), angle, 900, 400))], CONTEXT);
        };
        const [still, turnedOne] = [survey(0), survey(a)];
        const barArea = (f: Flake): number => (f.bar?.lengthUm ?? 0) * (f.bar?.widthUm ?? 0);
        expect(Math.abs(barArea(turnedOne) / barArea(still) - 1)).toBeLessThan(0.03);
        expect(turnedOne.edges?.length).toBe(still.edges?.length);
        expect(turnedOne.clearance?.gapUm).toBeCloseTo(still.clearance?.gapUm ?? 0, 6);
      }),
      { numRuns: 25 },
    );
  });

  it('gives the same bytes for the same flake', () => {
    const again = (): string => JSON.stringify(surveyed(simple, whole, [dirt('b', box(60, 0, 65, 5)), dirt('a', box(60, 8, 65, 13))], CONTEXT));
    expect(again()).toBe(again());
  });
});

describe('notes', () => {
  it('say "confirm at higher magnification" below four resolution elements across (common practice, no source), and not above', () => {
    const of = (acrossUm: number): Flake => surveyed(flake([terrace(box(0, 0, 20, acrossUm), 1, acrossUm)]), box(0, 0, 20, acrossUm), [], CONTEXT);
    expect(of(4.4).notes).toEqual([{ kind: 'confirmLarger', terrace: 0, acrossUm: 4.4, neededUm: 4 * ELEMENT }]);
    expect(of(4.6).notes).toEqual([]);
  });

  const folded = (strip: Terrace, base = terrace(box(0, 0, 40, 16), 1, 16)): readonly string[] => kinds(surveyed(flake([base, strip]), box(0, 0, 40, 22), [], CONTEXT));

  it('say "2 layers or fold" of a strip of two layers along the whole rim of one layer', () => {
    expect(folded(terrace(box(0, 16, 40, 22), 2, 6))).toEqual(['twoLayersOrFold']);
    expect(folded(terrace(box(2, 16, 38, 22), 4, 6), terrace(box(0, 0, 40, 16), 2, 16))).toEqual(['twoLayersOrFold']);
  });

  it('do not say so of three layers, of a patch that is no strip, of a strip amid its base, or of one that stands apart', () => {
    expect(folded(terrace(box(0, 16, 40, 22), 3, 6))).toEqual([]);
    expect(folded(terrace(box(0, 16, 12, 22), 2, 6))).toEqual([]);
    expect(folded(terrace(box(2, 6, 38, 11), 2, 5))).toEqual([]);
    expect(folded(terrace(box(0, 24, 40, 30), 2, 6))).toEqual([]);
  });

  it('do not say so of a wedge, whose sides mirror nothing', () => {
    expect(folded(terrace([at(0, 16), at(40, 16), at(40, 26)], 2, 6))).toEqual([]);
  });
});

describe('does a bar fit on the one-layer part', () => {
  const one = terrace(whole, 1, 20, 400);
  const two = terrace(box(20, 0, 40, 20), 2, 20);

  it('fits where one layer is seen, not under the two layers that lie on it', () => {
    expect(fitBarOnFlake(flake([one, two]), 1, 18, 5)).toMatchObject({ fits: true, terrace: 0 });
    expect(fitBarOnFlake(flake([one, two]), 1, 30, 5)).toMatchObject({ fits: false });
    expect(fitBarOnFlake(flake([one]), 1, 30, 5)).toMatchObject({ fits: true });
    expect(fitBarOnFlake(flake([one]), 1, 18, 18, [box(16, 6, 26, 14)])).toMatchObject({ fits: false });
  });

  it('has no answer where there is no such part', () => {
    expect(fitBarOnFlake(flake([one]), 3, 5, 5)).toBeUndefined();
  });
});
