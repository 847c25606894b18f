import type { StageBox, StagePoint } from '../../planner/units/index.ts';
import type { Random } from '../random.ts';

export type Corners = readonly StagePoint[];

/** What of a convex shape lies where (p - through) . (cos t, sin t) <= 0: a cut along a straight edge (Sutherland and Hodgman 1974). */
export function cutOff(corners: Corners, through: StagePoint, normalRad: number): Corners {
  const nx = Math.cos(normalRad);
  const ny = Math.sin(normalRad);
  const height = (p: StagePoint) => (p.xUm - through.xUm) * nx + (p.yUm - through.yUm) * ny;
  return corners.flatMap((from, i) => {
    const to = corners[(i + 1) % corners.length] ?? from;
    const a = height(from);
    const b = height(to);
    const kept = a <= 0 ? [from] : [];
    if (a <= 0 === b <= 0) return kept;
    const share = a / (a - b);
    return [...kept, { xUm: from.xUm + (to.xUm - from.xUm) * share, yUm: from.yUm + (to.yUm - from.yUm) * share }];
  });
}

export function boxAround(corners: Corners, marginUm = 0): StageBox {
  const xs = corners.map((p) => p.xUm);
  const ys = corners.map((p) => p.yUm);
  return { xMinUm: Math.min(...xs) - marginUm, xMaxUm: Math.max(...xs) + marginUm, yMinUm: Math.min(...ys) - marginUm, yMaxUm: Math.max(...ys) + marginUm };
}

export function boxesMeet(a: StageBox, b: StageBox): boolean {
  return a.xMinUm <= b.xMaxUm && b.xMinUm <= a.xMaxUm && a.yMinUm <= b.yMaxUm && b.yMinUm <= a.yMaxUm;
}

export function rectangle(centre: StagePoint, widthUm: number, heightUm: number, angleRad: number): Corners {
  const signs = [[-1, -1], [1, -1], [1, 1], [-1, 1]] as const;
  return signs.map(([sx, sy]) => turnedBy(centre, angleRad, (sx * widthUm) / 2, (sy * heightUm) / 2));
}

/** The point that lies at (x, y) in a frame with this centre and angle. */
export function turnedBy(centre: StagePoint, angleRad: number, x: number, y: number): StagePoint {
  const cosine = Math.cos(angleRad);
  const sine = Math.sin(angleRad);
  return { xUm: centre.xUm + x * cosine - y * sine, yUm: centre.yUm + x * sine + y * cosine };
}

/** A direction of the crystal: straight edges of a flake run in families 30 degrees apart; a torn edge runs anywhere. */
export function edgeDirection(random: Random, crystalRad: number, tornShare: number): number {
  if (random.next() < tornShare) return random.between(0, 2 * Math.PI);
  return crystalRad + (random.below(12) * Math.PI) / 6;
}

/** A flake's outline round (0, 0): cut by straight edges out of a rectangle, longer one way than the other. */
export function flakeOutline(random: Random, radiusUm: number, crystalRad: number): Corners {
  const stretch = random.between(1, 1.8);
  const along = edgeDirection(random, crystalRad, 0);
  let corners = rectangle({ xUm: 0, yUm: 0 }, 2 * radiusUm * stretch, (2 * radiusUm) / stretch, along);
  const cuts = 2 + random.below(4);
  for (let cut = 0; cut < cuts; cut++) {
    const normal = edgeDirection(random, crystalRad, 0.25);
    const reach = Math.hypot(Math.cos(normal - along) * stretch, Math.sin(normal - along) / stretch);
    const distanceUm = radiusUm * reach * random.between(0.5, 1);
    corners = cutOff(corners, { xUm: Math.cos(normal) * distanceUm, yUm: Math.sin(normal) * distanceUm }, normal);
  }
  return corners;
}

/** A part of the shape, cut off along a crystal edge: the next terrace. May be empty. */
export function terraceOn(random: Random, corners: Corners, crystalRad: number): Corners {
  const at = corners[random.below(corners.length)];
  const across = corners[random.below(corners.length)];
  if (!at || !across) return [];
  const share = random.between(0.3, 0.7);
  const through = { xUm: at.xUm + (across.xUm - at.xUm) * share, yUm: at.yUm + (across.yUm - at.yUm) * share };
  return cutOff(corners, through, edgeDirection(random, crystalRad, 0.2));
}
