import { describe, expect, it } from 'vitest';
import type { Detection, MeasuredTerrace } from '../../../planner/flakes/types.ts';
import { findKnownFlake, type Sought } from '../../../planner/knownFlake/index.ts';

/** Protects: what is taken for the known flake is like it in contrast and size and lies near its place; nothing else is. Laws of our own. */

function square(xUm: number, yUm: number, sideUm: number, contrast: readonly number[]): MeasuredTerrace {
  const half = sideUm / 2;
  const outlineUm = [[-1, -1], [1, -1], [1, 1], [-1, 1]].map(([x = 0, y = 0]) => ({ xUm: xUm + x * half, yUm: yUm + y * half }));
  return { outlineUm, areaUm2: sideUm ** 2, contrast, contrastError: contrast.map(() => 0.001), edgeWidthRatio: 1, unevenness: 1, inscribedUm: sideUm, inscribedCentreUm: { xUm, yUm }, saturatedShare: 0 };
}

function seen(terrace: MeasuredTerrace, more: Partial<Detection> = {}): Detection {
  return { terraces: [terrace], outlineUm: terrace.outlineUm, areaUm2: terrace.areaUm2, touchesFrameEdge: false, ...more };
}

const bilayer = [0.18, 0.14, 0.01];
const sought: Sought = { atUm: { xUm: 100, yUm: 100 }, withinUm: 60, contrast: [0.17, 0.15, 0.02] };

describe('the known flake among what a frame shows', () => {
  it('is found beside its place, and named by the middle of its box', () => {
    expect(findKnownFlake([seen(square(108, 94, 20, bilayer))], sought)).toMatchObject({ middleUm: { xUm: 108, yUm: 94 } });
  });

  it('is the nearest that is like it, not the nearest of all', () => {
    const dust = seen(square(101, 100, 10, [0.7, 0.7, 0.7]));
    const film = seen(square(99, 100, 30, [0.03, 0.02, 0]));
    expect(findKnownFlake([dust, film, seen(square(140, 100, 20, bilayer)), seen(square(118, 100, 20, bilayer))], sought)?.middleUm.xUm).toBe(118);
  });

  it('is none that is too far, cut by the edge, rejected, or of another size', () => {
    expect(findKnownFlake([seen(square(190, 100, 20, bilayer))], sought)).toBeUndefined();
    expect(findKnownFlake([seen(square(110, 100, 20, bilayer), { touchesFrameEdge: true })], sought)).toBeUndefined();
    expect(findKnownFlake([seen(square(110, 100, 20, bilayer), { reject: 'softEdge' })], sought)).toBeUndefined();
    expect(findKnownFlake([seen(square(110, 100, 20, bilayer))], { ...sought, areaUm2: 1200 })).toBeUndefined();
    expect(findKnownFlake([seen(square(110, 100, 20, bilayer))], { ...sought, areaUm2: 500 })).toBeDefined();
  });

  it('is told by place and size alone where its contrast is not known', () => {
    expect(findKnownFlake([seen(square(110, 100, 20, [0.9]))], { ...sought, contrast: [] })).toBeDefined();
  });
});
