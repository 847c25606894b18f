import { fitRectangle } from '../../geometry/fitRectangle.ts';
import type { BarFit } from '../../geometry/fitRectangle.ts';
import type { Flake } from '../types.ts';
import { visibleRegion } from './neighbour.ts';
import type { StagePoint } from '../../units/index.ts';

/** A bar's fit on a flake's terrace. */
export interface BarOnFlake extends BarFit<'stage'> {
  readonly terrace: number;
}

/**
 * Whether a bar of `lengthUm` by `widthUm` (a Hall bar's outline) fits on the part of a flake that has `layers` layers, where, and at
 * which angle: of several such terraces the one that it fits best. `undefined` when the flake has none.
 * @param dirtUm outlines of what lies on the flake and must be kept clear of
 */
export function fitBarOnFlake(flake: Pick<Flake, 'terraces'>, layers: number, lengthUm: number, widthUm: number, dirtUm: readonly (readonly StagePoint[])[] = []): BarOnFlake | undefined {
  let best: BarOnFlake | undefined;
  flake.terraces.forEach((terrace, i) => {
    const region = terrace.call.layers === layers ? visibleRegion(flake.terraces, i, dirtUm) : undefined;
    if (!region) return;
    const fit = fitRectangle(region, lengthUm, widthUm);
    if (!best || fit.scale > best.scale) best = { ...fit, terrace: i };
  });
  return best;
}
