export { findKnownFlake } from './match.ts';
export type { FoundTerrace, Sought } from './match.ts';
export { knownFlakeWays, visitSeconds } from './seconds.ts';
export { drifted, nightsLookedBack, steadinessOf } from './steadiness.ts';
export type { Change, Quantity, SeenKnownFlake, Steadiness } from './types.ts';
