import type { IndexTable } from './indexTable.ts';
import { grapheneWeber2010 } from './tables/grapheneWeber2010.ts';
import { graphiteDjurisic1999 } from './tables/graphiteDjurisic1999.ts';
import { hbnGrudinin2023 } from './tables/hbnGrudinin2023.ts';
import { mos2Hsu2019 } from './tables/mos2Hsu2019.ts';
import { mose2Hsu2019 } from './tables/mose2Hsu2019.ts';
import { nbse2Munkhbat2022 } from './tables/nbse2Munkhbat2022.ts';
import { ws2Hsu2019 } from './tables/ws2Hsu2019.ts';
import { wse2Hsu2019 } from './tables/wse2Hsu2019.ts';

/** The materials a run sheet can ask for. */
export const materialIds = ['graphene', 'graphite', 'hbn', 'mos2', 'ws2', 'mose2', 'wse2', 'nbse2'] as const;
export type MaterialId = (typeof materialIds)[number];

/**
 * A film's index and the thickness of one layer that the index was fitted with (or that we assume). The two belong together: one contrast
 * ladder uses one table and one spacing throughout.
 */
export interface Film {
  readonly table: IndexTable;
  readonly layerThicknessNm: number;
}

/**
 * Spacings: graphene 0.34 stated in the database beside the table; graphite c/2 = 0.3354 from memory; hBN 0.333, MoS2 0.615 and WS2 0.618 from a general web page of layer
 * spacings (a weak source); MoSe2 0.646, WSe2 0.648 and NbSe2 0.627 from memory. The database does not say which thickness the
 * monolayer tables of MoS2, WS2, MoSe2 and WSe2 were fitted with: the bulk spacing is our assumption.
 */
export const materials: Readonly<Record<MaterialId, Film>> = {
  graphene: { table: grapheneWeber2010, layerThicknessNm: 0.34 },
  graphite: { table: graphiteDjurisic1999, layerThicknessNm: 0.3354 },
  hbn: { table: hbnGrudinin2023, layerThicknessNm: 0.333 },
  mos2: { table: mos2Hsu2019, layerThicknessNm: 0.615 },
  ws2: { table: ws2Hsu2019, layerThicknessNm: 0.618 },
  mose2: { table: mose2Hsu2019, layerThicknessNm: 0.646 },
  wse2: { table: wse2Hsu2019, layerThicknessNm: 0.648 },
  nbse2: { table: nbse2Munkhbat2022, layerThicknessNm: 0.627 },
};

/** Graphite by thickness: for its own ladder, and for graphene that is too thick to count. */
export const graphite: Film = materials.graphite;

/** The film of a counted ladder; a caller with its own table passes the film itself. */
export function filmOf(material: MaterialId | Film): Film {
  return typeof material === 'string' ? materials[material] : material;
}

/** The film to measure thickness with: graphite where graphene is too thick to count, otherwise the film of the ladder. */
export function thickFilmOf(material: MaterialId | Film): Film {
  return material === 'graphene' ? graphite : filmOf(material);
}
