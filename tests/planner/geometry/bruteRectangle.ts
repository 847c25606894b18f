import type { Bar } from '../../../planner/geometry/inscribedRectangle.ts';
import type { Region } from '../../../planner/geometry/region.ts';
import type { StagePoint } from '../../../planner/units/index.ts';

type Ring = readonly StagePoint[];

/** A place by the even-odd rule, written apart from the planner's own. */
export function isIn(region: Region<'stage'>, x: number, y: number): boolean {
  const inRing = (ring: Ring): boolean =>
    ring.reduce((inside, a, i) => {
      const b = ring[(i + 1) % ring.length] ?? a;
      return a.yUm > y !== b.yUm > y && x < a.xUm + ((b.xUm - a.xUm) * (y - a.yUm)) / (b.yUm - a.yUm) ? !inside : inside;
    }, false);
  return inRing(region.outlineUm) && !region.holesUm.some(inRing);
}

/** Corners of a bar. */
export function cornersOf(bar: Bar<'stage'>): Ring {
  const angle = (bar.angleDeg * Math.PI) / 180;
  const [cos, sin] = [Math.cos(angle), Math.sin(angle)];
  return [[-1, -1], [1, -1], [1, 1], [-1, 1]].map(([s = 0, t = 0]): StagePoint => {
    const [u, v] = [(s * bar.lengthUm) / 2, (t * bar.widthUm) / 2];
    return { xUm: bar.centreUm.xUm + cos * u - sin * v, yUm: bar.centreUm.yUm + sin * u + cos * v };
  });
}

/**
 * Whether a bar lies inside: its middle does, and no edge of outline or holes comes into it (each edge is cut by the four sides,
 * Liang and Barsky's parametric clipping, ACM Transactions on Graphics 3 (1984) 1; from memory).
 */
export function liesInside(region: Region<'stage'>, bar: Bar<'stage'>, slackUm = 1e-6): boolean {
  if (!isIn(region, bar.centreUm.xUm, bar.centreUm.yUm)) return false;
  const angle = (bar.angleDeg * Math.PI) / 180;
  const [cos, sin] = [Math.cos(angle), Math.sin(angle)];
  const local = (p: StagePoint): readonly [number, number] => {
    const [dx, dy] = [p.xUm - bar.centreUm.xUm, p.yUm - bar.centreUm.yUm];
    return [cos * dx + sin * dy, cos * dy - sin * dx];
  };
  const reach = [bar.lengthUm / 2 - slackUm, bar.widthUm / 2 - slackUm];
  return [region.outlineUm, ...region.holesUm].every((ring) => ring.every((p, i) => !entersBox(local(p), local(ring[(i + 1) % ring.length] ?? p), reach)));
}

function entersBox(a: readonly [number, number], b: readonly [number, number], reach: readonly number[]): boolean {
  let [from, to] = [0, 1];
  for (const axis of [0, 1] as const) {
    const d = b[axis] - a[axis];
    const limit = reach[axis] ?? 0;
    if (Math.abs(d) < 1e-15) {
      if (Math.abs(a[axis]) >= limit) return false;
      continue;
    }
    const [p, q] = [(-limit - a[axis]) / d, (limit - a[axis]) / d];
    from = Math.max(from, Math.min(p, q));
    to = Math.min(to, Math.max(p, q));
  }
  return from < to;
}

/**
 * Largest rectangle by trying: at each of `angles` over a quarter turn, samples of a `fine` by `fine` grid over the turned outline; for
 * every pair of rows the longest run of columns that are inside in all rows between. A find counts only when it truly lies inside.
 */
export function bruteRectangle(region: Region<'stage'>, angles: number, fine: number): number {
  let best = 0;
  for (let k = 0; k < angles; k++) best = Math.max(best, bestAtAngle(region, (k * Math.PI) / 2 / angles, fine, best));
  return best;
}

function bestAtAngle(region: Region<'stage'>, angle: number, fine: number, toBeat: number): number {
  const [cos, sin] = [Math.cos(angle), Math.sin(angle)];
  const us = region.outlineUm.map((p) => cos * p.xUm + sin * p.yUm);
  const vs = region.outlineUm.map((p) => cos * p.yUm - sin * p.xUm);
  const [u0, v0] = [Math.min(...us), Math.min(...vs)];
  const [du, dv] = [(Math.max(...us) - u0) / fine, (Math.max(...vs) - v0) / fine];
  const at = (i: number, j: number): readonly [number, number] => [u0 + (i + 0.5) * du, v0 + (j + 0.5) * dv];
  const inside = Array.from({ length: fine }, (_, j) => Array.from({ length: fine }, (_, i) => {
    const [u, v] = at(i, j);
    return isIn(region, cos * u - sin * v, sin * u + cos * v);
  }));
  let best = toBeat;
  for (let top = 0; top < fine; top++) {
    const free = new Array<boolean>(fine).fill(true);
    for (let bottom = top; bottom < fine; bottom++) {
      let run = 0;
      for (let i = 0; i < fine; i++) {
        free[i] &&= inside[bottom]?.[i] ?? false;
        run = free[i] ? run + 1 : 0;
        const [wide, high] = [(run - 1) * du, (bottom - top) * dv];
        if (wide * high <= best) continue;
        const [u, v] = [at(i, bottom)[0] - wide / 2, at(i, bottom)[1] - high / 2];
        const bar = { centreUm: { xUm: cos * u - sin * v, yUm: sin * u + cos * v }, lengthUm: wide, widthUm: high, angleDeg: (angle * 180) / Math.PI };
        if (liesInside(region, bar)) best = wide * high;
      }
    }
  }
  return best;
}
