// What the bars of the accuracy table ask of a set's truth that score.py does not know: how wide a terrace is, and how large a pixel.
import { readJson } from '../acceptance/frameSetScore.mjs';

/** Grid that the largest circle is looked for on; the circle found is at most this much too small. */
const STEP_UM = 0.1;

const bounds = (corners) => {
  const xs = corners.map((p) => p[0]);
  const ys = corners.map((p) => p[1]);
  return { x0: Math.min(...xs), x1: Math.max(...xs), y0: Math.min(...ys), y1: Math.max(...ys) };
};

/** Even-odd rule. */
export function contains(corners, x, y) {
  let inside = false;
  for (let i = 0, j = corners.length - 1; i < corners.length; j = i++) {
    const [ax, ay] = corners[j];
    const [bx, by] = corners[i];
    if (ay > y !== by > y && x < ax + ((bx - ax) * (y - ay)) / (by - ay)) inside = !inside;
  }
  return inside;
}

export function distanceToEdge(corners, x, y) {
  let least = Infinity;
  for (let i = 0, j = corners.length - 1; i < corners.length; j = i++) {
    const [ax, ay] = corners[j];
    const [dx, dy] = [corners[i][0] - ax, corners[i][1] - ay];
    const squared = dx * dx + dy * dy;
    const along = squared === 0 ? 0 : Math.min(1, Math.max(0, ((x - ax) * dx + (y - ay) * dy) / squared));
    least = Math.min(least, Math.hypot(x - ax - along * dx, y - ay - along * dy));
  }
  return least;
}

/** Width in um of the largest circle on what is visible of a terrace: inside its outline and outside those that lie on it. */
export function visibleCircleUm(outline, above) {
  const { x0, x1, y0, y1 } = bounds(outline);
  let best = 0;
  for (let y = y0; y <= y1; y += STEP_UM) {
    for (let x = x0; x <= x1; x += STEP_UM) {
      if (!contains(outline, x, y) || above.some((a) => contains(a, x, y))) continue;
      const clear = Math.min(distanceToEdge(outline, x, y), ...above.map((a) => distanceToEdge(a, x, y)));
      if (clear > best) best = clear;
    }
  }
  return 2 * best;
}

/** A number of layers that no range asks for: takes a terrace out of what is wanted, and leaves it in the picture. */
const OUT_OF_RANGE = 9999;

/** The truth with those one-layer terraces taken out of what is wanted that no circle of `leastUm` fits on. */
export function onlyWide(truth, leastUm) {
  const narrow = (terrace, above) => terrace.layers === 1 && terrace.areaUm2 < 60 && visibleCircleUm(terrace.outlineUm, above) < leastUm;
  const flakes = truth.flakes.map((flake) => ({
    ...flake,
    terraces: flake.terraces.map((t, i) => (narrow(t, flake.terraces.slice(i + 1).map((a) => a.outlineUm)) ? { ...t, layers: OUT_OF_RANGE } : t)),
  }));
  return { ...truth, flakes };
}

/** Side of a pixel on the stage, um. Stored sets hold no Bayer frames, so that a pixel is what is measured. */
export function pixelUm(setFile) {
  const [[a, b], [c, d]] = readJson(setFile).cameraToStageUm;
  return Math.sqrt(Math.abs(a * d - b * c));
}
