/** Everything about polygons in one import; each idea has its own file. */
export { areaUm2, boundingBox, centroid, containsPoint, distanceToEdgeUm, perimeterUm, signedAreaUm2 } from './measure.ts';
export type { Polygon } from './measure.ts';
export { findSelfCrossing, polygonsIntersect } from './crossing.ts';
export type { EdgeCrossing } from './crossing.ts';
export { convexHull, isConvex } from './hull.ts';
export { simplify } from './simplify.ts';
