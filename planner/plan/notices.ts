import { inscribedCircle } from '../geometry/inscribedCircle.ts';
import type { Polygon } from '../geometry/polygon.ts';
import type { PlanNotice } from './types.ts';

/** What a person should know of a chip's plan that is sound all the same. */
export function chipNotices(outlineUm: Polygon<'stage'>, pieces: readonly Polygon<'stage'>[], field: { readonly widthUm: number; readonly heightUm: number }): readonly PlanNotice[] {
  const notices: PlanNotice[] = [];
  const chipUm = 2 * inscribedCircle(outlineUm).radiusUm;
  const fieldUm = Math.min(field.widthUm, field.heightUm);
  if (chipUm < fieldUm) notices.push({ code: 'fieldWiderThanChip', fieldUm, chipUm });
  if (pieces.length > 1) notices.push({ code: 'marginCutsApart', pieces: pieces.length });
  return notices;
}
