import { describe, expect, it } from 'vitest';
import { withoutSofter } from '../../../daemon/vision/softness.ts';
import type { Detection } from '../../../planner/flakes/types.ts';
import { box, detection, terrace } from '../../planner/flakes/drawn.ts';

/** Protects: an even dried film is told from crystals by its edge, in and out of focus; nothing is said where there is nothing to compare with. */

function find(sideUm: number, edgeWidthRatio: number): Detection {
  return { ...detection(box(0, 0, sideUm, sideUm), 0.1), terraces: [{ ...terrace(box(0, 0, sideUm, sideUm), 0.1), edgeWidthRatio }] };
}

const rejects = (detections: readonly Detection[]): readonly unknown[] => withoutSofter(detections).map((d) => d.reject);

describe('a find that ends more softly than the rest of its frame', () => {
  it('is no crystal', () => {
    expect(rejects([find(40, 1.55), find(20, 1.1), find(10, 1.15), find(8, 1.2)])).toEqual(['softEdge', undefined, undefined, undefined]);
  });

  it('is one where the whole frame is out of focus', () => {
    expect(rejects([find(40, 1.55), find(20, 1.45), find(10, 1.4), find(8, 1.5)])).toEqual([undefined, undefined, undefined, undefined]);
  });

  it('is left alone when it is small, or alone with one other', () => {
    expect(rejects([find(10, 1.55), find(20, 1.1), find(10, 1.15), find(8, 1.2)])).toEqual([undefined, undefined, undefined, undefined]);
    expect(rejects([find(40, 1.55), find(20, 1.1)])).toEqual([undefined, undefined]);
  });

  it('keeps the reason that it had', () => {
    expect(rejects([{ ...find(40, 1.55), reject: 'line' }, find(20, 1.1), find(10, 1.15), find(8, 1.2)])[0]).toBe('line');
  });
});
