import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { cleanlinessOf } from '../../../../planner/flakes/shape/cleanliness.ts';
import { CLEARANCE_LIMIT_UM, clearanceOf, gapBetweenUm } from '../../../../planner/flakes/shape/clearance.ts';
import type { Neighbour } from '../../../../planner/flakes/shape/neighbour.ts';
import { boundingBox } from '../../../../planner/geometry/polygon.ts';
import type { StagePoint } from '../../../../planner/units/index.ts';
import { at, box, regular, terrace, turn } from './flakes.ts';

const neighbour = (id: string, outline: readonly StagePoint[], isDirt = true, stands = true): Neighbour => ({ id, boxUm: boundingBox(outline), outlinesUm: [outline], isDirt, stands });
const flakeBox = box(-10, -5, 10, 5);

describe('pick-up clearance', () => {
  it('is the distance of the nearest thing from the centre and from the outline', () => {
    const far = neighbour('far', box(60, -3, 70, 3));
    const near = neighbour('near', box(-3, 25, 3, 30), false);
    expect(clearanceOf(flakeBox, at(0, 0), [far, near])).toEqual({ radiusUm: 25, gapUm: 20, nearest: 'near' });
    // Corner to corner: from (10, 5) to (13, 9) is 5, from the centre sqrt(13^2 + 9^2).
    const corner = clearanceOf(flakeBox, at(0, 0), [far, neighbour('corner', box(13, 9, 20, 20))]);
    expect(corner.gapUm).toBeCloseTo(5, 12);
    expect(corner.radiusUm).toBeCloseTo(Math.hypot(13, 9), 12);
  });

  it('finds radius and gap each for itself, when one thing is nearer to the centre and another to the outline', () => {
    const toCentre = neighbour('toCentre', box(-1, 9, 1, 12));
    const toOutline = neighbour('toOutline', box(12, -1, 14, 1));
    expect(clearanceOf(flakeBox, at(0, 0), [toOutline, toCentre])).toEqual({ radiusUm: 9, gapUm: 2, nearest: 'toOutline' });
  });

  it('is "at least the limit" with nothing near, and leaves out scratches and what lies wholly on the flake', () => {
    const none = { radiusUm: CLEARANCE_LIMIT_UM, gapUm: CLEARANCE_LIMIT_UM };
    const scratch = neighbour('scratch', box(15, -20, 16, 20), true, false);
    const bubble = neighbour('bubble', box(-2, -2, 2, 2));
    const beyond = neighbour('beyond', box(300, 0, 310, 10));
    expect(clearanceOf(flakeBox, at(0, 0), [scratch, bubble, beyond])).toEqual(none);
  });

  it('is the gap between two circles, the distance of the centres less both radii (to the chords), and the same from both sides', () => {
    fc.assert(
      fc.property(fc.double({ min: 1, max: 30, noNaN: true }), fc.double({ min: 1, max: 30, noNaN: true }), fc.double({ min: 1, max: 100, noNaN: true }), fc.double({ min: 0, max: 360, noNaN: true }), (r, s, gap, a) => {
        const one = regular(120, r);
        const other = turn(regular(120, s), 0, (r + s + gap) * Math.cos(a), (r + s + gap) * Math.sin(a));
        const chord = (r + s) * (1 - Math.cos(Math.PI / 120));
        const found = gapBetweenUm(one, other);
        expect(found).toBeGreaterThan(gap - 1e-9);
        expect(found).toBeLessThan(gap + chord + 1e-9);
        expect(gapBetweenUm(other, one)).toBeCloseTo(found, 9);
      }),
      { numRuns: 50 },
    );
    expect(gapBetweenUm(flakeBox, box(5, 0, 30, 3))).toBe(0);
  });

  it('does not depend on the order of the neighbours', () => {
    const things = Array.from({ length: 8 }, (_, i) => neighbour(`n${String(i)}`, box(20 + 3 * i, 5 * i, 25 + 3 * i, 5 * i + 4)));
    fc.assert(
      fc.property(fc.shuffledSubarray(things, { minLength: 8 }), (shuffled) => {
        expect(clearanceOf(flakeBox, at(0, 0), shuffled)).toEqual(clearanceOf(flakeBox, at(0, 0), things));
      }),
      { numRuns: 20 },
    );
  });
});

describe('cleanliness', () => {
  const clean = terrace(flakeBox, 1, 10);

  it('is 1 with no dirt near', () => {
    expect(cleanlinessOf([clean], 0, [neighbour('far', box(30, 0, 40, 5))], 1)).toEqual({ share: 1, blemishes: 0 });
  });

  it('loses the area of what lies on it, with a rim around: a bubble of 2 um radius with 1 um of rim takes pi 3^2 of 200 um2', () => {
    const bubble = neighbour('bubble', regular(60, 2));
    const { share, blemishes } = cleanlinessOf([{ ...clean, areaUm2: 200 - Math.PI * 4 }], 0, [bubble], 1);
    expect(blemishes).toBe(1);
    expect(share).toBeCloseTo(1 - (Math.PI * 9) / 200, 2);
  });

  it('loses only the rim to residue that touches it from outside: 1 um along 10 um of edge', () => {
    const { share, blemishes } = cleanlinessOf([clean], 0, [neighbour('film', box(10, -40, 60, 40))], 1);
    expect(blemishes).toBe(1);
    expect(share).toBeCloseTo(0.95, 2);
  });

  it('does not let dirt that encloses the flake cover it, since outlines do not tell of holes', () => {
    const ring = neighbour('ring', regular(60, 40));
    expect(cleanlinessOf([clean], 0, [ring], 1).share).toBe(1);
  });

  it('counts bare ground inside the outline as lost, but not another terrace', () => {
    // A hole of 40 um2 in 200 um2.
    expect(cleanlinessOf([{ ...clean, areaUm2: 160 }], 0, [], 1).share).toBeCloseTo(0.8, 2);
    const step = terrace(box(0, -5, 8, 5), 3, 8);
    expect(cleanlinessOf([{ ...clean, areaUm2: 120 }, step], 0, [], 1)).toEqual({ share: 1, blemishes: 0 });
  });

  it('never grows when dirt is added', () => {
    const spot = fc.record({ x: fc.double({ min: -12, max: 12, noNaN: true }), y: fc.double({ min: -7, max: 7, noNaN: true }), r: fc.double({ min: 0.3, max: 4, noNaN: true }) });
    fc.assert(
      fc.property(fc.array(spot, { minLength: 1, maxLength: 6 }), (spots) => {
        const dirt = spots.map((s, i) => neighbour(`d${String(i)}`, turn(regular(12, s.r), 0, s.x, s.y)));
        const shares = dirt.map((_, i) => cleanlinessOf([clean], 0, dirt.slice(0, i + 1), 0.5).share);
        expect(shares.every((s, i) => s >= 0 && s <= (shares[i - 1] ?? 1) + 1e-12)).toBe(true);
      }),
      { numRuns: 40 },
    );
  });
});
