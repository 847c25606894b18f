import type { Terrace } from './types.ts';

/** Whether more than half of the terraces' area is such. */
export function isMostly(terraces: readonly Terrace[], isSuch: (terrace: Terrace) => boolean): boolean {
  const area = (some: readonly Terrace[]): number => some.reduce((sum, t) => sum + t.areaUm2, 0);
  return area(terraces.filter(isSuch)) > 0.5 * area(terraces);
}
