import type { StagePoint } from '../../planner/units/index.ts';
import type { WorldChip } from './types.ts';

/** Height of focus, for the first objective, at a true stage position on a chip. */
export function focusHeightUm({ centreUm, widthUm, heightUm, angleDeg, surface }: WorldChip, at: StagePoint): number {
  const angle = (angleDeg * Math.PI) / 180;
  const dx = at.xUm - centreUm.xUm;
  const dy = at.yUm - centreUm.yUm;
  const u = dx * Math.cos(angle) + dy * Math.sin(angle);
  const v = dy * Math.cos(angle) - dx * Math.sin(angle);
  const bow = 1 - (2 * u / widthUm) ** 2 - (2 * v / heightUm) ** 2;
  return surface.focusUm + (surface.tiltXMrad * u + surface.tiltYMrad * v) / 1000 + surface.bowUm * bow;
}
