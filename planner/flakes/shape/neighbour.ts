import { areaUm2 } from '../../geometry/polygon.ts';
import type { Region } from '../../geometry/region.ts';
import type { StageBox, StagePoint } from '../../units/index.ts';
import { boxOf } from '../raster.ts';
import type { MeasuredTerrace, RejectReason } from '../types.ts';

type Outline = readonly StagePoint[];

/** What is no flake and yet no dirt on one: too bright to measure is thick, edge and marks lie beside, the sensor's dust is not there. */
const NO_DIRT: ReadonlySet<RejectReason> = new Set(['tooBright', 'chipEdge', 'metal', 'sensorDust']);

/** Whether what was rejected for this reason spoils a flake that it lies on. */
export function isDirtReason(reject: RejectReason | undefined): boolean {
  return reject !== undefined && !NO_DIRT.has(reject);
}

/** Something on the chip beside the flake at hand: what a stamp must keep clear of, or what may lie on the flake. */
export interface Neighbour {
  readonly id: string;
  readonly boxUm: StageBox;
  /** The thick terraces of a flake, or all of what is no flake. */
  readonly outlinesUm: readonly Outline[];
  /** Residue, bubbles, dust, scratches: lies on a flake as a blemish. A thick flake does not. */
  readonly isDirt: boolean;
  /** Stands above the chip: a scratch does not, and a stamp may touch it. */
  readonly stands: boolean;
}

/** Gap between two boxes, 0 where they overlap. */
export function boxGapUm(a: StageBox, b: StageBox): number {
  const dx = Math.max(0, a.xMinUm - b.xMaxUm, b.xMinUm - a.xMaxUm);
  const dy = Math.max(0, a.yMinUm - b.yMaxUm, b.yMinUm - a.yMaxUm);
  return Math.hypot(dx, dy);
}

/** Outlines tell nothing of holes: of two that overlap, the smaller lies on the larger. */
export function liesOn(upper: Outline, lower: Outline): boolean {
  return upper.length >= 3 && boxGapUm(boxOf(upper), boxOf(lower)) === 0 && areaUm2(upper) < areaUm2(lower);
}

/** What is seen of a terrace: its outline without its holes, and without the terraces and the dirt that lie on it. */
export function visibleRegion(terraces: readonly MeasuredTerrace[], index: number, dirt: readonly Outline[]): Region<'stage'> | undefined {
  const outlineUm = terraces[index]?.outlineUm ?? [];
  if (outlineUm.length < 3) return undefined;
  const others = terraces.filter((_, i) => i !== index).map((t) => t.outlineUm);
  return { outlineUm, holesUm: [...[...others, ...dirt].filter((upper) => liesOn(upper, outlineUm)), ...(terraces[index]?.holesUm ?? [])] };
}
