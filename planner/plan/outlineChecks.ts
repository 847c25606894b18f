import { areaUm2, findSelfCrossing, polygonsIntersect } from '../geometry/polygon.ts';
import type { Polygon } from '../geometry/polygon.ts';
import { outlinePolygon } from './outline.ts';
import type { ChipToScan, PlanRefusal } from './types.ts';

/** What is wrong with one chip's outline as such; `undefined` when nothing is. Corners that repeat the one before do not count. */
export function outlineRefusal(chip: ChipToScan, outline: Polygon<'stage'>): PlanRefusal | undefined {
  const corners = outline.filter((corner, i) => {
    const before = outline[(i + outline.length - 1) % outline.length];
    return !before || corner.xUm !== before.xUm || corner.yUm !== before.yUm;
  }).length;
  if (chip.outline.shape === 'polygon' && corners < 3) return { code: 'outlineTooFewCorners', chip: chip.name, corners };
  // Before the area: the two halves of a bow tie have areas of opposite sign.
  const crossing = chip.outline.shape === 'polygon' ? findSelfCrossing(outline) : undefined;
  if (crossing) return { code: 'outlineCrossesItself', chip: chip.name, ...crossing };
  return areaUm2(outline) > 0 ? undefined : { code: 'outlineEmpty', chip: chip.name, edgeMarginUm: chip.edgeMarginUm };
}

/** Areas to skip that are none, by their place in the chip's list. */
export function skipRefusals(chip: ChipToScan): readonly PlanRefusal[] {
  return (chip.skip ?? []).flatMap((outline, skip): readonly PlanRefusal[] => {
    const wrong = outlineRefusal({ name: chip.name, outline, edgeMarginUm: 0 }, outlinePolygon(outline));
    return wrong ? [{ code: 'skipUnsound', chip: chip.name, skip, crosses: wrong.code === 'outlineCrossesItself' }] : [];
  });
}

/** Every pair of chips that lie over each other. */
export function overlappingChips(outlines: readonly { readonly name: string; readonly outlineUm: Polygon<'stage'> }[]): readonly PlanRefusal[] {
  return outlines.flatMap((chip, i) =>
    outlines
      .slice(i + 1)
      .filter((other) => polygonsIntersect(chip.outlineUm, other.outlineUm))
      .map((other): PlanRefusal => ({ code: 'chipsOverlap', chip: chip.name, other: other.name })),
  );
}
