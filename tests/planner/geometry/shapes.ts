import fc from 'fast-check';
import type { Region } from '../../../planner/geometry/region.ts';
import type { StagePoint } from '../../../planner/units/index.ts';

export const at = (xUm: number, yUm: number): StagePoint => ({ xUm, yUm });

/** Turned about the origin and set down far from it. */
export const turned = (p: StagePoint, angleRad: number): StagePoint =>
  at(p.xUm * Math.cos(angleRad) - p.yUm * Math.sin(angleRad) + 40_000, p.xUm * Math.sin(angleRad) + p.yUm * Math.cos(angleRad) - 7_000);

export const angle = fc.double({ min: 0, max: 6.28, noNaN: true });

export const regionOf = (outlineUm: readonly StagePoint[], ...holesUm: readonly (readonly StagePoint[])[]): Region<'stage'> => ({ outlineUm, holesUm });

const share = fc.double({ min: 0, max: 1, noNaN: true });

/** A star: corners in order around the origin, so it does not cross itself; rough ones are concave. */
function star(corners: readonly (readonly [number, number])[], radiusUm: number, roughness: number, stretch: number): readonly StagePoint[] {
  return corners.map(([bend, depth], i) => {
    const a = (2 * Math.PI * (i + 0.7 * bend)) / corners.length;
    const r = radiusUm * (1 - roughness * depth);
    return at(r * stretch * Math.cos(a), r * Math.sin(a));
  });
}

/** Outlines of 4 to 40 corners, round or long, smooth or concave, some with a hole. */
export const randomRegion: fc.Arbitrary<Region<'stage'>> = fc
  .record({
    corners: fc.array(fc.tuple(share, share), { minLength: 4, maxLength: 40 }),
    roughness: fc.double({ min: 0, max: 0.8, noNaN: true }),
    stretch: fc.double({ min: 1, max: 6, noNaN: true }),
    angleRad: angle,
    hole: fc.option(fc.array(fc.tuple(share, share), { minLength: 4, maxLength: 9 })),
  })
  .map(({ corners, roughness, stretch, angleRad, hole }) => {
    const turn = (ring: readonly StagePoint[]): readonly StagePoint[] => ring.map((p) => turned(p, angleRad));
    return { outlineUm: turn(star(corners, 20, roughness, stretch)), holesUm: hole ? [turn(star(hole, 3, 0.4, 1).map((p) => at(p.xUm + 5, p.yUm)))] : [] };
  });
