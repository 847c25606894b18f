import { describe, expect, it } from 'vitest';
import { addTile, emptyBook, flakesOf, rereadBook } from '../../../planner/flakes/book.ts';
import type { BookContext } from '../../../planner/flakes/book.ts';
import type { Detection } from '../../../planner/flakes/types.ts';
import { halogen, idealColourBands, layerCurve, materials, thickFilmOf } from '../../../planner/optics/index.ts';
import { box, context, detection, pose, terrace } from './drawn.ts';

/** Protects: patterned marks are named, and the brightest films are not taken for them. */

/** Normal reflectance of bulk gold at about 630, 540 and 460 nm by n and k of Johnson and Christy 1972 (from memory): 0.2 - 3.1i, 0.4 - 2.4i, 1.4 - 1.9i. */
const gold = [[0.2, 3.1], [0.4, 2.4], [1.4, 1.9]].map(([n = 0, k = 0]) => ((n - 1) ** 2 + k * k) / ((n + 1) ** 2 + k * k));

function bare(oxideNm: number): readonly number[] {
  const curve = layerCurve({ material: 'graphene', oxideNm, numericalAperture: 0.3, lamp: halogen, bands: idealColourBands, layersMax: 1 });
  return curve.substrate;
}

function thing(contrast: readonly number[]): Detection {
  return { ...detection(box(0, 0, 40, 40), 0), terraces: [{ ...terrace(box(0, 0, 40, 40), 0), contrast }] };
}

function verdictOf(contrast: readonly number[], on: BookContext): unknown {
  const { book } = addTile(emptyBook(on), 0, pose(0), [thing(contrast)]);
  const [flake] = flakesOf(rereadBook(book).book);
  return flake?.reject ?? flake?.verdict;
}

describe.each([90, 285, 300])('on %i nm of oxide', (oxideNm) => {
  const contrast = gold.map((r, i) => 1 - r / (bare(oxideNm)[i] ?? 1));

  it('gold is metal where graphene is looked for', () => {
    expect(verdictOf(contrast, { ...context, oxideNm })).toBe('metal');
  });

  it('gold is no flake where MoS2 is, which is nearly as bright', () => {
    expect(['metal', 'offLayerCurve', 'thick']).toContain(verdictOf(contrast, { ...context, material: 'mos2', oxideNm }));
  });

  it('no thick film of graphite or MoS2 is', () => {
    for (const material of ['graphene', 'mos2'] as const) {
      const film = material === 'graphene' ? thickFilmOf('graphene') : materials.mos2;
      const curve = layerCurve({ material: film, oxideNm, numericalAperture: 0.3, lamp: halogen, bands: idealColourBands, layersMax: 200 });
      for (const layers of [30, 60, 100, 150, 200]) expect(verdictOf(curve.contrast[layers] ?? [], { ...context, material, oxideNm })).not.toBe('metal');
    }
  });
});
