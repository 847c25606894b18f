import { materialIds, type MaterialId } from '../../planner/optics/index.ts';
import { NightjarError } from '../errors/index.ts';

/** A material by its name as people write it (`hBN`, `MoS2`). Throws `unknownMaterial` with the list of what there is. */
export function materialNamed(name: string): MaterialId {
  const found = materialIds.find((id) => id === name.trim().toLowerCase());
  if (!found) throw new NightjarError('unknownMaterial', { material: name, known: materialIds });
  return found;
}

/** Names as people write them. */
export const materialNames: Readonly<Record<MaterialId, string>> = { graphene: 'graphene', graphite: 'graphite', hbn: 'hBN', mos2: 'MoS2', ws2: 'WS2', mose2: 'MoSe2', wse2: 'WSe2', nbse2: 'NbSe2' };
