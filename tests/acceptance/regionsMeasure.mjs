// Measures masks with the built code, as plain numbers that another library can be held against.
import { built } from './frameSetScore.mjs';

const { labelComponents } = await import(built('daemon/vision/components.js'));
const { traceContours } = await import(built('planner/flakes/trace.js'));
const { inscribedInMask } = await import(built('planner/flakes/inscribed.js'));
const { areaUm2, centroid, perimeterUm, simplify } = await import(built('planner/geometry/polygon.js'));

/** Corners that stray less than this are dropped from an outline, in samples: as daemon/vision/outline.ts does. */
const STRAY_PX = 0.3;

/** Pixel components, eight neighbours: count, box and the first moment of their sample centres. */
function componentsOf({ mask, width, height }) {
  const { labels, components } = labelComponents(mask, width, height);
  const sums = components.map(() => [0, 0]);
  for (let i = 0; i < labels.length; i++) {
    if (labels[i] === 0) continue;
    const sum = sums[labels[i] - 1];
    sum[0] += (i % width) + 0.5;
    sum[1] += Math.floor(i / width) + 0.5;
  }
  return components.map(({ count, colFrom, colEnd, rowFrom, rowEnd }, i) => ({ count, box: [colFrom, rowFrom, colEnd, rowEnd], centre: [sums[i][0] / count, sums[i][1] / count] }));
}

/** Outlines and holes, with the measures of planner/geometry, in samples. */
function contoursOf(field, width, height) {
  return traceContours(field, width, height).map((contour) => {
    const corners = contour.cols.map((xUm, i) => ({ xUm, yUm: contour.rows[i] }));
    const { xUm, yUm } = centroid(corners);
    return {
      isHole: contour.area < 0, area: areaUm2(corners), centre: [xUm, yUm], perimeter: perimeterUm(corners), simplePerimeter: perimeterUm(simplify(corners, STRAY_PX)),
      simpleArea: areaUm2(simplify(corners, STRAY_PX)), corners: corners.map((p) => [p.xUm, p.yUm]),
    };
  });
}

/** Means of a fine mask over square blocks. */
function blockMeans({ mask, width, height, finer }) {
  const wide = width / finer;
  const field = new Float32Array(wide * (height / finer));
  for (let i = 0; i < mask.length; i++) field[Math.floor(i / width / finer) * wide + Math.floor((i % width) / finer)] += mask[i] / (finer * finer);
  return field;
}

/** Everything that is compared; of a fine mask only the outline of its means over blocks. */
export function measureMask(shape) {
  const { name, kind, width, height, mask, finer } = shape;
  if (finer) return { name, kind, width, height, finer, contours: contoursOf(blockMeans(shape), width / finer, height / finer) };
  const circle = inscribedInMask(mask, width, height);
  return { name, kind, width, height, components: componentsOf(shape), contours: contoursOf(Float32Array.from(mask), width, height), circleRadius: circle.radiusPx, polygon: shape.corners?.map((p) => [p.xUm, p.yUm]) };
}
