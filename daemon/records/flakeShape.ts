import { z } from 'zod';
import type { Flake } from '../../planner/flakes/types.ts';

/** Cheap checks of what a flake says of its shape and neighbourhood; records of before it did have none of it. */
const number = z.number();
const count = z.number().int().min(0);
const point = z.looseObject({ xUm: number, yUm: number });

const bar = z.looseObject({ lengthUm: number, widthUm: number, angleDeg: number, centreUm: point });
const edge = z.looseObject({ terrace: count, fromUm: point, toUm: point, lengthUm: number, angleDeg: number, angleErrorDeg: number, inFamily: z.boolean() });
const family = z.looseObject({ angleDeg: number, angleErrorDeg: number, directions: count, members: count, lengthShare: number, chance: number });
const clearance = z.looseObject({ radiusUm: number, gapUm: number, nearest: z.string().exactOptional() });
const cleanliness = z.looseObject({ share: number, blemishes: count });
const note = z.discriminatedUnion('kind', [
  z.looseObject({ kind: z.literal('twoLayersOrFold'), terrace: count, base: count, layers: count, widthUm: number }),
  z.looseObject({ kind: z.literal('confirmLarger'), terrace: count, acrossUm: number, neededUm: number }),
  z.looseObject({ kind: z.literal('halo'), terrace: count, contrast: number }),
  z.looseObject({ kind: z.literal('smallerThanWanted'), terrace: count, acrossUm: number, wantedUm: number }),
]);
const rankParts = z.looseObject({ size: number, layers: number, probability: number, cleanliness: number, enough: number.exactOptional() });

type Shape = Pick<Flake, 'bar' | 'edges' | 'edgeFamily' | 'clearance' | 'cleanliness' | 'notes' | 'rankParts'>;

/** The keys that a flake's schema gains. */
export const flakeShape = {
  bar: bar.exactOptional(),
  edges: z.array(edge).exactOptional(),
  edgeFamily: family.exactOptional(),
  clearance: clearance.exactOptional(),
  cleanliness: cleanliness.exactOptional(),
  notes: z.array(note).exactOptional(),
  rankParts: rankParts.exactOptional(),
} satisfies { readonly [K in keyof Shape]-?: z.ZodType };
