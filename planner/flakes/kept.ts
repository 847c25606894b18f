import { pack, unpack, type Packed } from './packing.ts';
import type { Detection, Flake, LayerCall, RejectReason } from './types.ts';

/** A detection as a book keeps it: what every new tile asks of it at hand, the rest packed. */
export interface KeptDetection {
  readonly areaUm2: number;
  readonly touchesFrameEdge: boolean;
  readonly reject: RejectReason | undefined;
  readonly packed: Packed<Detection>;
}

export function keepDetection(detection: Detection): KeptDetection {
  const { areaUm2, touchesFrameEdge, reject } = detection;
  return { areaUm2, touchesFrameEdge, reject, packed: pack(detection) };
}

export function wholeDetection({ packed }: KeptDetection): Detection {
  return unpack(packed);
}

/** How a flake was last read: all of it but what its group's detection says. */
export type Reading = Omit<Flake, 'terraces'> & { readonly terraces: readonly { readonly call: LayerCall }[] };

/** A flake as a book keeps it. */
export type KeptFlake = Packed<Reading>;

/** Its terraces must be those of its group's detection, in the same order. */
export function keepFlake(flake: Flake): KeptFlake {
  return pack<Reading>({ ...flake, terraces: flake.terraces.map(({ call }) => ({ call })) });
}

export function readingOf(kept: KeptFlake): Reading {
  return unpack(kept);
}

/** The flake as it was given to {@link keepFlake}. */
export function wholeFlake(kept: KeptFlake, merged: KeptDetection): Flake {
  const reading = readingOf(kept);
  const { terraces } = wholeDetection(merged);
  return { ...reading, terraces: reading.terraces.flatMap(({ call }, i) => (terraces[i] ? [{ ...terraces[i], call }] : [])) };
}
