// What truly lies at a place of a simulated chip: flakes by layers, dirt by kind.
import { contains, distanceToEdge } from './accuracyTruth.mjs';

/** Counted up to here; more layers are "thick". */
export const MOST_COUNTED = 10;
/** An edge blurs and the stage errs by about this much. */
const RIM_UM = 2.5;

const boxOf = (corners, rim = 0) => {
  const xs = corners.map((p) => p[0]);
  const ys = corners.map((p) => p[1]);
  return [Math.min(...xs) - rim, Math.max(...xs) + rim, Math.min(...ys) - rim, Math.max(...ys) + rim];
};
const inBox = ([x0, x1, y0, y1], x, y) => x >= x0 && x <= x1 && y >= y0 && y <= y1;

/** The simulator does not say what a blob was drawn as; its size and softness do (see simulators/world/blemishes.ts). */
function kindOf(blemish) {
  if (blemish.kind === 'stripe') return 'scratch';
  if (blemish.hollow > 0) return 'ring';
  if (blemish.softUm === 1.2) return 'dust';
  if (blemish.lobe === 0.03 && blemish.softUm < 1) return 'bubble';
  return blemish.radiusUm >= 20 && blemish.softUm >= 0.24 * blemish.radiusUm ? 'film' : 'residue';
}

/** Whether a blemish changes the light at a place, and for wide ones whether by its rim or its middle. */
function blemishAt(b, x, y) {
  if (b.kind === 'stripe') {
    const corners = b.outlineUm.map((p) => [p.xUm, p.yUm]);
    return contains(corners, x, y) || distanceToEdge(corners, x, y) < 1 ? 'scratch' : undefined;
  }
  const kind = kindOf(b);
  const [dx, dy] = [x - b.centreUm.xUm, y - b.centreUm.yUm];
  const angle = Math.atan2(dy, dx);
  const edge = b.radiusUm * (1 + b.lobe * (Math.cos(2 * angle + b.phase) + Math.cos(3 * angle - b.phase)));
  const beyond = Math.hypot(dx, dy) - edge;
  if (beyond > b.softUm / 2 + 0.5) return undefined;
  if (kind === 'film') return beyond > -b.softUm / 2 ? 'film rim' : 'film middle';
  if (kind === 'ring') return Math.hypot(dx, dy) < edge * b.hollow - b.softUm / 2 ? undefined : 'ring';
  if (kind === 'residue') return beyond > -b.softUm / 2 ? 'residue rim' : 'residue middle';
  return kind;
}

/** Looks up places of one simulated set. */
export function openTruth({ truth, blemishes }) {
  const flakes = truth.flakes.map((flake) => ({ box: boxOf(flake.terraces[0].outlineUm, RIM_UM), terraces: flake.terraces }));
  const dirt = blemishes.map((b) => ({ b, box: [b.box.xMinUm - 1, b.box.xMaxUm + 1, b.box.yMinUm - 1, b.box.yMaxUm + 1] }));
  /** Layers at a place, 0 for none. */
  const layersAt = (x, y) => {
    for (const { box, terraces } of flakes) {
      if (!inBox(box, x, y)) continue;
      for (let i = terraces.length - 1; i >= 0; i--) if (contains(terraces[i].outlineUm, x, y)) return terraces[i].layers;
    }
    return 0;
  };
  /** What is there, as a word. */
  const kindAt = (x, y) => {
    const layers = layersAt(x, y);
    for (const { b, box } of dirt) {
      const found = inBox(box, x, y) ? blemishAt(b, x, y) : undefined;
      if (found) return layers > 0 ? `${found} on a flake` : found;
    }
    if (layers > MOST_COUNTED) return 'thick flake';
    if (layers > 0) return `${layers} layers`;
    const near = flakes.find(({ box, terraces }) => inBox(box, x, y) && distanceToEdge(terraces[0].outlineUm, x, y) < RIM_UM);
    return near ? (near.terraces[0].layers > MOST_COUNTED ? "thick flake's rim" : "flake's rim") : 'bare oxide';
  };
  return { layersAt, kindAt };
}

/** About 400 places spread evenly over an outline, without those that the outlines above it cover. */
export function placesOn(outline, above) {
  const [x0, x1, y0, y1] = boxOf(outline);
  const step = Math.max(0.3, Math.sqrt(((x1 - x0) * (y1 - y0)) / 600));
  const places = [];
  for (let y = y0 + step / 2; y < y1; y += step) {
    for (let x = x0 + step / 2; x < x1; x += step) {
      if (contains(outline, x, y) && !above.some((a) => contains(a, x, y))) places.push([x, y]);
    }
  }
  return places;
}

/** Counts of each value, the most frequent first. */
export function tally(values) {
  const counts = new Map();
  for (const v of values) counts.set(v, (counts.get(v) ?? 0) + 1);
  return [...counts].sort((a, b) => b[1] - a[1]);
}
