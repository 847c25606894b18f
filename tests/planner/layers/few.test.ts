import { describe, expect, it } from 'vitest';
import { fitLadder } from '../../../planner/layers/ladder.ts';
import { readContrast } from '../../../planner/layers/posterior.ts';
import type { ContrastSample, LadderContext } from '../../../planner/layers/types.ts';
import { constantIndex, halogen, idealColourBands, layerCurve, materials } from '../../../planner/optics/index.ts';
import type { Film } from '../../../planner/optics/index.ts';

const context: LadderContext = { material: 'graphene', oxideNm: 285, numericalAperture: 0.3, lamp: 'halogen', channels: 3 };
/** Graphene as three papers have it: the ladder's own table, and the films of Ni et al. 2007 and Blake et al. 2007 (from memory). */
const PAPERS: Readonly<Record<string, Film>> = {
  weber: materials.graphene,
  ni: { table: constantIndex('ni2007', { n: 2, k: 1.1 }), layerThicknessNm: 0.335 },
  blake: { table: constantIndex('blake2007', { n: 2.6, k: 1.3 }), layerThicknessNm: 0.34 },
};

function seen(film: Film, oxideNm: number): (layers: number, seed?: number) => ContrastSample {
  const { contrast } = layerCurve({ material: film, oxideNm, numericalAperture: 0.3, lamp: halogen, bands: idealColourBands, layersMax: 12 });
  return (layers, seed = 0) => ({ contrast: (contrast[layers] ?? []).map((c, k) => c + 0.003 * Math.sin(7 * seed + 3 * k)), contrastError: [0.004, 0.004, 0.004] });
}

describe('with few flakes', () => {
  it.each(Object.keys(PAPERS))('one alone has its true number among those named, were its film that of %s', (paper) => {
    for (const oxideNm of [279, 285, 292]) {
      const of = seen(PAPERS[paper] ?? materials.graphene, oxideNm);
      for (const layers of [1, 2, 3, 4]) {
        const call = readContrast(fitLadder(context, [of(layers, layers)]), of(layers, layers));
        expect([paper, oxideNm, layers, call.among?.includes(layers)]).toEqual([paper, oxideNm, layers, true]);
      }
    }
  });

  it('"1 or 2 layers" becomes two when the chip shows more of the ladder', () => {
    const ni = seen(PAPERS['ni'] ?? materials.graphene, 285);
    const alone = readContrast(fitLadder(context, [ni(2)]), ni(2));
    expect(alone.among).toEqual([1, 2]);
    const others = [1, 1, 3, 3, 4, 5, 6].map((n, i) => ni(n, i));
    const call = readContrast(fitLadder(context, [ni(2), ...others]), ni(2));
    expect([call.layers, call.among]).toEqual([2, [2]]);
  });
});
